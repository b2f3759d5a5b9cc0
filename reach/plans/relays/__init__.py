"""Relays, stand-bys, net control, rota, forecast, what-if."""
