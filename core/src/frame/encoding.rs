//! postcard's encoding, written without an index that has to be checked.
//!
//! The bytes are those of postcard (its wire format 1.0); what reads them is postcard itself. Its own writer keeps a check of an
//! index in its loops over the bytes of a number when it is built for size, and with the check a panic that can be reached. This
//! writer has no room of its own to index: each byte goes out as it is known. There is one of it for all kinds of output, so a
//! type's encoding stands in the program once.
//!
//! Not written: numbers of 128 bits and text made by formatting. No type of this crate holds any.

use super::NoRoom;
use serde::ser::{
    Error, Serialize, SerializeMap, SerializeSeq, SerializeStruct, SerializeStructVariant, SerializeTuple,
    SerializeTupleStruct, SerializeTupleVariant, Serializer,
};

/// Takes bytes one after another.
pub(super) trait Output {
    /// Takes one byte.
    fn put(&mut self, byte: u8) -> Result<(), NoRoom>;

    /// Takes several.
    fn put_all(&mut self, bytes: &[u8]) -> Result<(), NoRoom> {
        for byte in bytes {
            self.put(*byte)?;
        }
        Ok(())
    }
}

/// Writes a value to an output.
pub(super) fn write<T: Serialize + ?Sized>(value: &T, output: &mut dyn Output) -> Result<(), NoRoom> {
    value.serialize(Encoder(output))
}

/// Writes a value as postcard's bytes to the front of `room`, and returns them: as `postcard::to_slice` does.
///
/// ```
/// # use risertrim::frame::{decode, to_bytes};
/// let mut room = [0; 8];
/// let bytes = to_bytes(&(300u16, true), &mut room)?;
/// assert_eq!(bytes, [0xAC, 0x02, 1]); // 300 is 0b10_0101100: the low seven bits first, the top bit set while more follow
/// assert_eq!(decode::<(u16, bool)>(bytes), Ok((300, true)));
/// # Ok::<(), risertrim::frame::NoRoom>(())
/// ```
///
/// # Errors
/// [`NoRoom`] when it does not fit.
pub fn to_bytes<'a, T: Serialize + ?Sized>(value: &T, room: &'a mut [u8]) -> Result<&'a mut [u8], NoRoom> {
    let mut slice = Slice { room, length: 0 };
    write(value, &mut slice)?;
    let Slice { room, length } = slice;
    room.get_mut(..length).ok_or(NoRoom)
}

struct Slice<'a> {
    room: &'a mut [u8],
    length: usize,
}

impl Output for Slice<'_> {
    fn put(&mut self, byte: u8) -> Result<(), NoRoom> {
        *self.room.get_mut(self.length).ok_or(NoRoom)? = byte;
        self.length = self.length.saturating_add(1);
        Ok(())
    }
}

impl Error for NoRoom {
    fn custom<T: core::fmt::Display>(_: T) -> Self {
        Self
    }
}

struct Encoder<'a>(&'a mut dyn Output);

impl Encoder<'_> {
    fn again(&mut self) -> Encoder<'_> {
        Encoder(&mut *self.0)
    }

    /// Seven bits a byte, the low ones first; the top bit says that more follow.
    #[inline(never)]
    fn number(&mut self, mut rest: u32) -> Result<(), NoRoom> {
        while let Some(byte) = more(rest.into()) {
            self.0.put(byte)?;
            rest >>= 7;
        }
        let [last, ..] = rest.to_le_bytes();
        self.0.put(last)
    }

    #[inline(never)]
    fn long_number(&mut self, mut rest: u64) -> Result<(), NoRoom> {
        while let Some(byte) = more(rest) {
            self.0.put(byte)?;
            rest >>= 7;
        }
        let [last, ..] = rest.to_le_bytes();
        self.0.put(last)
    }

    fn length(&mut self, length: usize) -> Result<(), NoRoom> {
        match u32::try_from(length) {
            Ok(length) => self.number(length),
            Err(_) => self.long_number(u64::try_from(length).map_err(|_| NoRoom)?),
        }
    }
}

/// The byte for the low seven bits, when others are left.
const fn more(rest: u64) -> Option<u8> {
    let [low, ..] = rest.to_le_bytes();
    if rest >= 0x80 { Some(low | 0x80) } else { None }
}

impl<'a> Serializer for Encoder<'a> {
    type Ok = ();
    type Error = NoRoom;
    type SerializeSeq = Self;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeMap = Self;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    fn is_human_readable(&self) -> bool {
        false
    }

    fn serialize_bool(self, value: bool) -> Result<(), NoRoom> {
        self.0.put(u8::from(value))
    }

    fn serialize_i8(self, value: i8) -> Result<(), NoRoom> {
        let [byte] = value.to_le_bytes();
        self.0.put(byte)
    }

    // Signed numbers in zigzag: 0, -1, 1, -2 ... become 0, 1, 2, 3 ...
    fn serialize_i16(self, value: i16) -> Result<(), NoRoom> {
        self.serialize_i32(value.into())
    }

    fn serialize_i32(mut self, value: i32) -> Result<(), NoRoom> {
        self.number((value.cast_unsigned() << 1) ^ (value >> 31).cast_unsigned())
    }

    fn serialize_i64(mut self, value: i64) -> Result<(), NoRoom> {
        self.long_number((value.cast_unsigned() << 1) ^ (value >> 63).cast_unsigned())
    }

    fn serialize_u8(self, value: u8) -> Result<(), NoRoom> {
        self.0.put(value)
    }

    fn serialize_u16(mut self, value: u16) -> Result<(), NoRoom> {
        self.number(value.into())
    }

    fn serialize_u32(mut self, value: u32) -> Result<(), NoRoom> {
        self.number(value)
    }

    fn serialize_u64(mut self, value: u64) -> Result<(), NoRoom> {
        self.long_number(value)
    }

    fn serialize_f32(self, value: f32) -> Result<(), NoRoom> {
        self.0.put_all(&value.to_bits().to_le_bytes())
    }

    fn serialize_f64(self, value: f64) -> Result<(), NoRoom> {
        self.0.put_all(&value.to_bits().to_le_bytes())
    }

    fn serialize_char(self, value: char) -> Result<(), NoRoom> {
        self.serialize_str(value.encode_utf8(&mut [0; 4]))
    }

    fn serialize_str(self, value: &str) -> Result<(), NoRoom> {
        self.serialize_bytes(value.as_bytes())
    }

    fn serialize_bytes(mut self, value: &[u8]) -> Result<(), NoRoom> {
        self.length(value.len())?;
        self.0.put_all(value)
    }

    fn serialize_none(self) -> Result<(), NoRoom> {
        self.0.put(0)
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), NoRoom> {
        self.0.put(1)?;
        value.serialize(self)
    }

    fn serialize_unit(self) -> Result<(), NoRoom> {
        Ok(())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Result<(), NoRoom> {
        Ok(())
    }

    fn serialize_unit_variant(mut self, _: &'static str, variant: u32, _: &'static str) -> Result<(), NoRoom> {
        self.number(variant)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Result<(), NoRoom> {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        mut self,
        _: &'static str,
        variant: u32,
        _: &'static str,
        value: &T,
    ) -> Result<(), NoRoom> {
        self.number(variant)?;
        value.serialize(self)
    }

    fn serialize_seq(mut self, length: Option<usize>) -> Result<Self, NoRoom> {
        self.length(length.ok_or(NoRoom)?)?;
        Ok(self)
    }

    fn serialize_tuple(self, _: usize) -> Result<Self, NoRoom> {
        Ok(self)
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self, NoRoom> {
        Ok(self)
    }

    fn serialize_tuple_variant(
        mut self,
        _: &'static str,
        variant: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, NoRoom> {
        self.number(variant)?;
        Ok(self)
    }

    fn serialize_map(self, length: Option<usize>) -> Result<Self, NoRoom> {
        self.serialize_seq(length)
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Self, NoRoom> {
        Ok(self)
    }

    fn serialize_struct_variant(
        mut self,
        _: &'static str,
        variant: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, NoRoom> {
        self.number(variant)?;
        Ok(self)
    }

    fn collect_str<T: core::fmt::Display + ?Sized>(self, _: &T) -> Result<(), NoRoom> {
        Err(NoRoom)
    }
}

/// The parts of everything that has parts stand one behind the other, with nothing between or behind.
macro_rules! parts {
    ($($of:ident { $($part:ident($($name:ty)?)),+ })+) => { $(
        impl $of for Encoder<'_> {
            type Ok = ();
            type Error = NoRoom;

            $(fn $part<T: Serialize + ?Sized>(&mut self, $(_: $name,)? value: &T) -> Result<(), NoRoom> {
                value.serialize(self.again())
            })+

            fn end(self) -> Result<(), NoRoom> {
                Ok(())
            }
        }
    )+ };
}

parts! {
    SerializeSeq { serialize_element() }
    SerializeTuple { serialize_element() }
    SerializeTupleStruct { serialize_field() }
    SerializeTupleVariant { serialize_field() }
    SerializeMap { serialize_key(), serialize_value() }
    SerializeStruct { serialize_field(&'static str) }
    SerializeStructVariant { serialize_field(&'static str) }
}
