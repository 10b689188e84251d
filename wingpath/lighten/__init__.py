"""The search for the lightest rib layout that is stiff enough."""
