"""The library: an index over a folder of logs, so that thousands of samples are ranked, filtered and published."""
