"""The page that compares many samples: one file, without a network, sorted and filtered in the browser."""
