//! What is known about a lift before any point is measured.

/// Standard deviations of the natural logarithms of the three multipliers, all about 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Of the entrance loss, slip and air.
    pub sigmas: [f64; 3],
}

impl Default for Prior {
    /// Losses 1.5, slip 0.25, air 0.2.
    ///
    /// * The entrance loss within a factor 4.5 (one standard deviation) and 20 (two). A mesh, a guard, a foot near the floor
    ///   and an injector in the way add 2 to 10 to the 0.5 of a clean pipe end, up to 20 times as much in all; a bell mouth
    ///   takes 0.05, a tenth (common practice, no source). The wall and the outlet are not multiplied: their friction is that
    ///   of a clean pipe and a known bend, and none of it hides behind a mesh.
    /// * Slip within 25 %: drift velocities of published laws spread by so much over bores of 25-200 mm (Nicklin, Wilkes &
    ///   Davidson 1962, Kataoka & Ishii 1987, churn flow after Ishii 1977).
    /// * Air within 20 %: a rotameter off its pressure, or a valve's conductance from its sheet (common practice, no source).
    fn default() -> Self {
        Self {
            sigmas: [1.5, 0.25, 0.2],
        }
    }
}
