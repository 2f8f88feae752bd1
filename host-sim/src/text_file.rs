//! Text files as people save them: read whole, or what is wrong with them and how to save them right.

use std::fmt;
use std::path::Path;

/// Why a file cannot be taken as text.
#[derive(Debug)]
pub enum NoText {
    /// It cannot be read at all.
    Io(std::io::Error),
    /// Two bytes a letter, as some editors save.
    Utf16,
    /// Bytes that no text holds.
    Binary,
    /// A letter of an older encoding.
    OtherLetters {
        /// The line it stands on, from 1.
        line: usize,
        /// Its first byte.
        byte: u8,
    },
}

impl fmt::Display for NoText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const SAVE: &str = "save it as UTF-8 (in the editor: save as, encoding UTF-8)";
        match self {
            Self::Io(error) => error.fmt(f),
            Self::Utf16 => write!(f, "it is saved as UTF-16; {SAVE}"),
            Self::Binary => f.write_str("it is no text; if it is a log, `risertrim decode` reads it"),
            Self::OtherLetters { line, byte } => {
                write!(
                    f,
                    "line {line} holds a letter that is not UTF-8 (byte {byte:#04x}); {SAVE}"
                )
            }
        }
    }
}

impl std::error::Error for NoText {}

/// Reads a text file. The mark that some programs put before UTF-8 is left out.
///
/// # Errors
/// It cannot be read, or is no UTF-8 text.
pub fn read(path: &Path) -> Result<String, NoText> {
    text(std::fs::read(path).map_err(NoText::Io)?)
}

fn text(bytes: Vec<u8>) -> Result<String, NoText> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(NoText::Utf16);
    }
    if bytes.contains(&0) {
        // Without its mark, UTF-16 of these letters has a zero in every second place.
        let zeros = bytes.iter().filter(|byte| **byte == 0).count();
        let utf16 = bytes.len().is_multiple_of(2) && zeros * 3 > bytes.len();
        return Err(if utf16 { NoText::Utf16 } else { NoText::Binary });
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok(text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned)),
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let bytes = error.as_bytes();
            Err(NoText::OtherLetters {
                line: 1 + bytes.iter().take(at).filter(|byte| **byte == b'\n').count(),
                byte: bytes.get(at).copied().unwrap_or_default(),
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(bytes: &[u8]) -> String {
        match text(bytes.to_vec()) {
            Ok(text) => text,
            Err(error) => error.to_string(),
        }
    }

    #[test]
    fn a_file_saved_in_another_encoding_is_told_how_to_save_it() {
        let utf16: Vec<u8> = "name = 1\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
        let marked: Vec<u8> = [0xff, 0xfe].into_iter().chain(utf16.clone()).collect();
        for bytes in [utf16, marked] {
            assert!(told(&bytes).contains("UTF-16; save it as UTF-8"), "{}", told(&bytes));
        }
        let latin = told(b"[place]\nname = \"Teich f\xfcr alle\"\n");
        assert!(latin.contains("line 2") && latin.contains("0xfc"), "{latin}");
        assert!(told(&[7, 0, 200, 0, 1]).contains("no text"));
        assert_eq!(told("\u{feff}[place]".as_bytes()), "[place]");
        assert_eq!(told("Größe".as_bytes()), "Größe");
    }
}
