"""What a report says, as data: sections that both renderers draw."""
