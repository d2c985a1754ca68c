"""YAML text becomes a plan, a plan becomes steps. Opens no port."""
