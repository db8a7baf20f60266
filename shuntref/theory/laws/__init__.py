"""The laws, one module per subject."""
