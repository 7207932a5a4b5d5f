"""Pages of the locates: thin doors to selectors and services."""
