"""Tables of containers, orders, shipments and complaints."""
