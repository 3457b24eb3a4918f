"""PDFs for the binder: pure layout in millimetres, one canvas that paints."""
