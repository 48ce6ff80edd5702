"""Pictures: values in, SVG text out.  They need no library, no colour and no script."""
