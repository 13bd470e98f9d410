//! Micrographs of finished stone, rendered with their truth.
