//! A NOR flash in memory whose power goes after so many operations.
//!
//! Its rules: a write clears bits and sets none; a word is written once between two erasures; an erasure sets all bits of whole pages. When
//! the power goes in the middle of a word or of an erasure, what is left there is drawn at random between before and
//! after.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash, check_erase, check_read, check_write,
};

/// How far the operation got in which the power went.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Torn {
    /// It had hardly begun: nothing is changed.
    Early,
    /// Some bits are changed, others not.
    Half,
    /// All is changed, but it never answered.
    Late,
}

pub const TORN: [Torn; 3] = [Torn::Early, Torn::Half, Torn::Late];

#[derive(Clone, Debug)]
pub struct Flash<const WORD: usize, const PAGE: usize> {
    pub bytes: Vec<u8>,
    /// Words that were written since their page was erased.
    written: Vec<bool>,
    /// Words written and pages erased so far.
    pub operations: u64,
    /// Erasures of each page.
    pub erasures: Vec<u32>,
    /// Operations left before the power goes.
    left: Option<u64>,
    torn: Torn,
    noise: u64,
    dead: bool,
    /// Pages that take no writes any more: they read as erased.
    pub worn: Vec<usize>,
    /// So many reads fail from now on.
    pub stumbles: u32,
    /// Reads before those.
    pub reads_before: u32,
    /// Reads so far.
    pub reads: u32,
}

impl<const WORD: usize, const PAGE: usize> Flash<WORD, PAGE> {
    pub fn blank(pages: usize) -> Self {
        Self {
            bytes: vec![0xFF; pages * PAGE],
            written: vec![false; pages * PAGE / WORD],
            operations: 0,
            erasures: vec![0; pages],
            left: None,
            torn: Torn::Half,
            noise: 0,
            dead: false,
            worn: Vec::new(),
            stumbles: 0,
            reads_before: 0,
            reads: 0,
        }
    }

    /// The power will go in the operation after this many.
    #[must_use]
    pub fn cut_after(mut self, operations: u64, torn: Torn, seed: u64) -> Self {
        (self.left, self.torn, self.noise) = (Some(operations), torn, seed | 1);
        self
    }

    /// The power is back.
    #[must_use]
    pub fn on_again(mut self) -> Self {
        (self.left, self.dead) = (None, false);
        self
    }

    pub fn is_dead(&self) -> bool {
        self.dead
    }

    fn random(&mut self) -> u8 {
        // xorshift64: fixed seeds, no dependency.
        self.noise ^= self.noise << 13;
        self.noise ^= self.noise >> 7;
        self.noise ^= self.noise << 17;
        (self.noise >> 32).to_le_bytes()[0]
    }

    /// Counts an operation; true when the power goes in it.
    fn goes(&mut self) -> bool {
        self.operations += 1;
        match &mut self.left {
            Some(0) => {
                self.dead = true;
                true
            }
            Some(left) => {
                *left -= 1;
                false
            }
            None => false,
        }
    }
}

impl<const WORD: usize, const PAGE: usize> ErrorType for Flash<WORD, PAGE> {
    type Error = NorFlashErrorKind;
}

impl<const WORD: usize, const PAGE: usize> ReadNorFlash for Flash<WORD, PAGE> {
    const READ_SIZE: usize = WORD;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        check_read(self, offset, bytes.len()).expect("reads whole words within the flash");
        if self.dead {
            return Err(NorFlashErrorKind::Other);
        }
        self.reads += 1;
        if self.reads_before > 0 {
            self.reads_before -= 1;
        } else if self.stumbles > 0 {
            self.stumbles -= 1;
            return Err(NorFlashErrorKind::Other);
        }
        let at = usize::try_from(offset).expect("small");
        bytes.copy_from_slice(&self.bytes[at..at + bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const WORD: usize, const PAGE: usize> NorFlash for Flash<WORD, PAGE> {
    const WRITE_SIZE: usize = WORD;
    const ERASE_SIZE: usize = PAGE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        check_erase(self, from, to).expect("erases whole pages within the flash");
        let (from, to) = (
            usize::try_from(from).expect("small"),
            usize::try_from(to).expect("small"),
        );
        for page in from / PAGE..to / PAGE {
            if self.dead {
                return Err(NorFlashErrorKind::Other);
            }
            let goes = self.goes();
            for at in page * PAGE..(page + 1) * PAGE {
                self.bytes[at] |= match (goes, self.torn) {
                    (false, _) | (true, Torn::Late) => 0xFF,
                    (true, Torn::Early) => 0,
                    (true, Torn::Half) => self.random(),
                };
            }
            if goes {
                return Err(NorFlashErrorKind::Other);
            }
            self.erasures[page] += 1;
            self.written[page * PAGE / WORD..(page + 1) * PAGE / WORD].fill(false);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        check_write(self, offset, bytes.len()).expect("writes whole words within the flash");
        let mut at = usize::try_from(offset).expect("small");
        for word in bytes.chunks(WORD) {
            if self.dead {
                return Err(NorFlashErrorKind::Other);
            }
            if !self.worn.contains(&(at / PAGE)) {
                let goes = self.goes();
                assert!(!self.written[at / WORD], "the word at {at} is written twice");
                // A word that the power cut short before any bit changed cannot be told from one never written.
                self.written[at / WORD] = !(goes && self.torn == Torn::Early);
                for (index, byte) in word.iter().enumerate() {
                    let clear = match (goes, self.torn) {
                        (false, _) | (true, Torn::Late) => 0,
                        (true, Torn::Early) => 0xFF,
                        (true, Torn::Half) => self.random(),
                    };
                    self.bytes[at + index] &= *byte | clear;
                }
                if goes {
                    // So is one of which no bit changed.
                    let blank = self.bytes[at..at + WORD].iter().all(|byte| *byte == 0xFF);
                    self.written[at / WORD] &= !blank;
                    return Err(NorFlashErrorKind::Other);
                }
            }
            at += WORD;
        }
        Ok(())
    }
}
