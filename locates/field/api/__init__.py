"""The locates' part of the API."""
