"""Files that go out: tables as CSV and XLSX, templates to fill in, everything as one archive."""
