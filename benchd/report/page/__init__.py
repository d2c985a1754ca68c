"""Results as HTML pages."""
