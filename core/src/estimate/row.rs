//! Rows and triangles of numbers, reached without a way to panic.

/// A number of a row; zero beyond its end.
pub(super) fn get(row: &[f32], index: usize) -> f32 {
    row.get(index).copied().unwrap_or(0.0)
}

pub(super) fn set<T>(row: &mut [T], index: usize, value: T) {
    if let Some(slot) = row.get_mut(index) {
        *slot = value;
    }
}

pub(super) fn add(row: &mut [f32], index: usize, value: f32) {
    if let Some(slot) = row.get_mut(index) {
        *slot += value;
    }
}

pub(super) fn add_at<const N: usize>(block: &mut [[f32; N]], row: usize, column: usize, value: f32) {
    if let Some(row) = block.get_mut(row) {
        add(row, column, value);
    }
}

/// `to += weight x from`, as far as both go. Not inlined: six instructions a number this way, nine the other.
#[inline(never)]
pub(super) fn add_scaled(to: &mut [f32], weight: f32, from: &[f32]) {
    for (to, from) in to.iter_mut().zip(from) {
        *to += weight * from;
    }
}

/// `to += weight x column`, of the column `index` of a block.
pub(super) fn add_column<const N: usize>(to: &mut [f32], weight: f32, block: &[[f32; N]], index: usize) {
    for (to, row) in to.iter_mut().zip(block) {
        *to += weight * get(row, index);
    }
}

/// Copies the upper triangle onto the lower one.
pub(super) fn mirror<const N: usize>(block: &mut [[f32; N]; N]) {
    let mut left: &mut [[f32; N]] = block;
    let mut at = 0;
    while let Some((row, below)) = left.split_first_mut() {
        at += 1;
        for (value, lower) in row.iter().skip(at).zip(below.iter_mut()) {
            set(lower, at - 1, *value);
        }
        left = below;
    }
}
