//! What is known about a lift before any point is measured.

/// Standard deviations of the natural logarithms of the three multipliers, all about 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Of losses, slip and air.
    pub sigmas: [f64; 3],
}

impl Default for Prior {
    /// Losses 1.0, slip 0.25, air 0.2.
    ///
    /// * Losses within a factor 2.7 (one standard deviation) and 7 (two): a mesh, a T-piece, an injector in the way
    ///   add a loss of 2 to 10 to the 0.5 of a clean pipe end (common practice, no source).
    /// * Slip within 25 %: drift velocities of published laws spread by so much over bores of 25-200 mm (Nicklin, Wilkes &
    ///   Davidson 1962, Kataoka & Ishii 1987, churn flow after Ishii 1977).
    /// * Air within 20 %: a rotameter off its pressure, or a valve's conductance from its sheet (common practice, no source).
    fn default() -> Self {
        Self {
            sigmas: [1.0, 0.25, 0.2],
        }
    }
}
