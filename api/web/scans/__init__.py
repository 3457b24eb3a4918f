"""Web pages: scans."""
