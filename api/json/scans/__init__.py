"""JSON routes: scans."""
