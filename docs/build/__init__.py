"""Programs that make pages and pictures of docs/; run each from the repository root, as `python -m docs.build.NAME`."""
