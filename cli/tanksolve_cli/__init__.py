"""The command line: parse, call one analysis, print or write. No arithmetic."""
