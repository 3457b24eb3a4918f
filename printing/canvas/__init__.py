"""The one place that paints: fonts, typesetting and PDF."""
