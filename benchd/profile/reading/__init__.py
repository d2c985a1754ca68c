"""YAML and CSV text become validated models, with the place of every error."""
