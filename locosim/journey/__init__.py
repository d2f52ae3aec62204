"""The train on the road: forces, integration and ledgers."""
