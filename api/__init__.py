"""The HTTP service, the web pages and the command line."""
