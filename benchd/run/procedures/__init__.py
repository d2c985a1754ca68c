"""How steps are read: one file a procedure, each with one function ``perform(step, rig)``."""
