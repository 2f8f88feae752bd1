//! Where the parts of the side view stand on its page, px.

use super::canvas::Canvas;
use super::sheet::Sheet;

/// Bottom of the drawing.
pub(super) const BOTTOM: f64 = 800.0;
/// Walls of the source tank from the left. Tank widths are free.
pub(super) const SOURCE: (f64, f64) = (70.0, 520.0);
/// Walls of the receiving tank.
pub(super) const RECEIVER: (f64, f64) = (575.0, 790.0);
/// Axis of the riser.
pub(super) const RISER: f64 = 318.0;
/// The stilling tube.
pub(super) const TUBE: f64 = 120.0;

/// Half the pipe's outside diameter, px.
pub(super) fn half_width(canvas: &Canvas, sheet: &Sheet) -> f64 {
    (0.5 * sheet.candidate.pipe.outside_mm * 1e-3 * canvas.scale).max(3.0)
}
