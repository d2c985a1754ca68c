"""Results as JSON, CSV, Parquet and colour text."""
