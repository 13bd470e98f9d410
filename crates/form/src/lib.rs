//! Height maps and meshes: flatness, symmetry, radii, grooves, volume, areal texture.
