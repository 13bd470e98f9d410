//! The orientation tag, applied once.

use rayon::prelude::*;

/// Turns a plane of `N` values per pixel upright by EXIF orientation 1–8 (other numbers count as 1); gives width and height after it.
///
/// # Source
/// TIFF 6.0 section 'Orientation', which EXIF takes over: the number names where row 0 and column 0 lie as seen.
pub(crate) fn upright<T: Copy + Send + Sync, const N: usize>(
    mut values: Vec<T>,
    width: usize,
    height: usize,
    tag: u8,
) -> (Vec<T>, usize, usize) {
    match tag {
        2 => values.par_chunks_mut((N * width).max(1)).for_each(reverse_pixels::<T, N>),
        3 => reverse_pixels::<T, N>(&mut values),
        4 => {
            // Bottom-up is a half turn and then every row mirrored back.
            reverse_pixels::<T, N>(&mut values);
            values.par_chunks_mut((N * width).max(1)).for_each(reverse_pixels::<T, N>);
        }
        5..=8 => return (turned::<T, N>(&values, width, height, tag), height, width),
        _ => {}
    }
    (values, width, height)
}

fn reverse_pixels<T: Copy, const N: usize>(values: &mut [T]) {
    values.reverse();
    values.chunks_exact_mut(N).for_each(<[T]>::reverse);
}

/// Rows copied together, so that a column walk through the source stays in the cache.
const BAND: usize = 16;

fn turned<T: Copy + Send + Sync, const N: usize>(
    values: &[T],
    width: usize,
    height: usize,
    tag: u8,
) -> Vec<T> {
    let Some(&first) = values.first() else { return Vec::new() };
    let mut out = vec![first; values.len()];
    out.par_chunks_mut((N * height * BAND).max(1)).enumerate().for_each(|(band, rows)| {
        for x in 0..height {
            let source_y = if tag == 6 || tag == 7 { height - 1 - x } else { x };
            for (row, target) in rows.chunks_exact_mut(N * height).enumerate() {
                let y = band * BAND + row;
                let source_x = if tag == 7 || tag == 8 { width - 1 - y } else { y };
                let at = N * (source_y * width + source_x);
                if let (Some(pixel), Some(from)) =
                    (target.get_mut(N * x..N * (x + 1)), values.get(at..at + N))
                {
                    pixel.copy_from_slice(from);
                }
            }
        }
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A 2 × 3 picture whose upright reading is `0 1 / 2 3 / 4 5`, stored in the eight ways the tag names.
    #[test]
    fn all_eight_give_the_same_picture() {
        let stored: [(u8, usize, usize, [u8; 6]); 8] = [
            (1, 2, 3, [0, 1, 2, 3, 4, 5]),
            (2, 2, 3, [1, 0, 3, 2, 5, 4]),
            (3, 2, 3, [5, 4, 3, 2, 1, 0]),
            (4, 2, 3, [4, 5, 2, 3, 0, 1]),
            (5, 3, 2, [0, 2, 4, 1, 3, 5]),
            (6, 3, 2, [1, 3, 5, 0, 2, 4]),
            (7, 3, 2, [5, 3, 1, 4, 2, 0]),
            (8, 3, 2, [4, 2, 0, 5, 3, 1]),
        ];
        for (tag, width, height, values) in stored {
            let grey = upright::<u8, 1>(values.to_vec(), width, height, tag);
            assert_eq!(grey, (vec![0, 1, 2, 3, 4, 5], 2, 3), "tag {tag}");
            let rgb = values.iter().flat_map(|&v| [v, v + 10, v + 20]).collect();
            let (rgb, ..) = upright::<u8, 3>(rgb, width, height, tag);
            assert_eq!(rgb[..6], [0, 10, 20, 1, 11, 21], "tag {tag}");
        }
    }
}
