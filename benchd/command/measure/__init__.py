"""Commands that measure, or list what would be measured."""
