"""Reports as HTML, PDF and figure files."""
