"""Builds the store from the reference data and from open data files. The only writers."""
