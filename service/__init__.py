"""Answers about planned aquatic plants. Reads the store, never writes it."""
