//! Statistics of directions, lengths, spacings and widths: numbers in, numbers out.
//!
//! Invariant: knows nothing of pictures, files or finishes; every random draw takes its seed from the caller.
