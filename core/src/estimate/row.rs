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

/// Places in a row of at most 32, a bit each.
#[derive(Clone, Copy, Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Places(u32);

impl Places {
    pub const NONE: Self = Self(0);

    /// The bit of a place.
    pub fn of(place: usize) -> u32 {
        #[allow(clippy::cast_possible_truncation)] // at most 32 places
        1u32.wrapping_shl(place as u32)
    }

    pub fn note(&mut self, place: usize) {
        self.0 |= Self::of(place);
    }

    /// The same without this one.
    pub fn without(self, place: usize) -> Self {
        Self(self.0 & !Self::of(place))
    }
}

impl Iterator for Places {
    type Item = usize;

    #[inline]
    fn next(&mut self) -> Option<usize> {
        if self.0 == 0 {
            return None;
        }
        let place = self.0.trailing_zeros();
        self.0 &= self.0.wrapping_sub(1);
        Some(place as usize)
    }
}

/// `to += weight x from`, as far as both go. Not inlined: six instructions a number this way, nine the other.
#[inline(never)]
pub(super) fn add_scaled(to: &mut [f32], weight: f32, from: &[f32]) {
    for (to, from) in to.iter_mut().zip(from) {
        *to += weight * from;
    }
}

/// The same with two rows at once: eight instructions a number.
#[inline(never)]
pub(super) fn add_two(to: &mut [f32], (a, x): (f32, &[f32]), (b, y): (f32, &[f32])) {
    for ((to, x), y) in to.iter_mut().zip(x).zip(y) {
        *to = *to + a * x + b * y;
    }
}

/// Adds the rows of a block at these places, each times its number in `weights` times `step`.
pub(super) fn add_rows<const N: usize>(to: &mut [f32], step: f32, weights: &[f32], mut at: Places, block: &[[f32; N]]) {
    while let Some(one) = at.next() {
        let a = step * get(weights, one);
        match at.next() {
            Some(other) => add_two(
                to,
                (a, row(block, one)),
                (step * get(weights, other), row(block, other)),
            ),
            None => add_scaled(to, a, row(block, one)),
        }
    }
}

/// A row of a block; none beyond its end.
pub(super) fn row<const N: usize>(block: &[[f32; N]], index: usize) -> &[f32] {
    block.get(index).map_or(&[], |row| row)
}

/// `to += weight x column`, of the column `index` of a block.
#[inline(never)]
pub(super) fn add_column<const N: usize>(to: &mut [f32], weight: f32, block: &[[f32; N]], index: usize) {
    if index >= N {
        return;
    }
    for (to, row) in to.iter_mut().zip(block) {
        *to += weight * get(row, index);
    }
}

/// Copies the upper triangle onto the lower one.
pub(super) fn mirror<const N: usize>(block: &mut [[f32; N]; N]) {
    for at in 1..N {
        let Some((above, [own, ..])) = block.split_at_mut_checked(at) else {
            return;
        };
        for (value, row) in own.iter_mut().zip(above.iter()) {
            *value = get(row, at);
        }
    }
}
