"""What parts and fittings take up: their bodies, leads and holes."""
