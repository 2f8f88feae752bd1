//! How long a flash lasts.

/// How many times each page is erased in a year, when `record_bytes` are written every `every_s` seconds in turn over `pages` pages
/// of `page_bytes`. Infinite for nonsense.
///
/// ```
/// # use risertrim_firmware::erases_a_year;
/// // Learned state of eight lifts (220 bytes) every ten minutes on two pages of 4 KiB: 18 records a page.
/// let year = erases_a_year(220, 600, 4096, 2);
/// assert!((1460.0..1462.0).contains(&year));
/// // A flash of 10 000 cycles lasts 7 years; every hour, 41 years; on eight pages every ten minutes, 27 years.
/// ```
#[must_use]
#[allow(clippy::cast_precision_loss)] // a figure for people
pub fn erases_a_year(record_bytes: u32, every_s: u32, page_bytes: u32, pages: u32) -> f32 {
    const YEAR_S: f32 = 31_557_600.0;
    let records_a_page = page_bytes.checked_div(record_bytes).unwrap_or(0);
    if records_a_page == 0 || every_s == 0 || pages == 0 {
        return f32::INFINITY;
    }
    YEAR_S / every_s as f32 / records_a_page as f32 / pages as f32
}
