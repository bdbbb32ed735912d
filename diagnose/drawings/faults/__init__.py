"""Pictures of faults, from the geometry of mesh, stencil, light and print."""
