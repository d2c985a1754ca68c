"""Commands that measure, or say what would be measured."""
