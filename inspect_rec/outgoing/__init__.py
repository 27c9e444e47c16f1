"""Readings and results for other programs: CSV, XLSX, Parquet, JSON Lines, QIF. No I/O."""
