"""What words mean: tables, codes, components, actions, VIN, units."""
