//! Reads the numbers of a body. WIRE.md section 2.

/// A body from its front. What cannot be read is 0 and remembered, so that one question at the end suffices.
#[derive(Debug)]
pub(crate) struct Numbers<'b> {
    rest: &'b [u8],
    is_broken: bool,
}

impl<'b> Numbers<'b> {
    pub(crate) const fn of(body: &'b [u8]) -> Self {
        Self {
            rest: body,
            is_broken: false,
        }
    }

    /// Whether every number was there and well spelt, and nothing is left.
    pub(crate) const fn end_well(&self) -> bool {
        self.rest.is_empty() && !self.is_broken
    }

    pub(crate) fn byte(&mut self) -> u8 {
        let Some((&byte, rest)) = self.rest.split_first() else {
            self.is_broken = true;
            return 0;
        };
        self.rest = rest;
        byte
    }

    /// A varint of at most 16 bits.
    #[inline(never)]
    pub(crate) fn small(&mut self) -> u16 {
        match *self.rest {
            [low, ref rest @ ..] if low < 0x80 => {
                self.rest = rest;
                u16::from(low)
            }
            [low, middle, ref rest @ ..] if middle < 0x80 => {
                self.rest = rest;
                // Its last byte is not 0.
                self.is_broken |= middle == 0;
                u16::from(low & 0x7F) | u16::from(middle) << 7
            }
            [low, middle, high, ref rest @ ..] => {
                self.rest = rest;
                self.is_broken |= high == 0 || high > 0x03;
                u16::from(low & 0x7F) | u16::from(middle & 0x7F) << 7 | u16::from(high) << 14
            }
            _ => {
                self.is_broken = true;
                0
            }
        }
    }

    /// A zigzag of 16 bits.
    pub(crate) fn signed(&mut self) -> i16 {
        let number = self.small();
        (number >> 1) as i16 ^ -((number & 1) as i16)
    }

    /// A varint of at most 32 bits.
    pub(crate) fn medium(&mut self) -> u32 {
        let mut number = 0;
        let mut shift = 0;
        loop {
            let byte = self.byte();
            number |= u32::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                // The last byte: not a needless zero (nor one that was not there), not beyond 32 bits.
                self.is_broken |= (byte == 0 && shift > 0) || (shift == 28 && byte > 0x0F);
                return number;
            }
            if shift == 28 {
                self.is_broken = true;
                return 0;
            }
            shift += 7;
        }
    }

    /// A varint of at most 64 bits.
    pub(crate) fn large(&mut self) -> u64 {
        let mut number = 0;
        let mut shift = 0;
        loop {
            let byte = self.byte();
            number |= u64::from(byte & 0x7F) << shift;
            if byte < 0x80 {
                self.is_broken |= (byte == 0 && shift > 0) || (shift == 63 && byte > 1);
                return number;
            }
            if shift == 63 {
                self.is_broken = true;
                return 0;
            }
            shift += 7;
        }
    }
}
