//! The small numbers of MIDI, each within its range.

use std::fmt;

/// A number outside its range.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{quantity} is {min} to {max}, found {found}")]
pub struct RangeError {
    /// The kind of number.
    pub quantity: &'static str,
    /// The least it may be.
    pub min: i64,
    /// The most it may be.
    pub max: i64,
    /// The number that was given.
    pub found: i64,
}

impl RangeError {
    /// Checks that `found` lies within `min..=max`.
    ///
    /// # Errors
    /// When it does not.
    pub fn check(
        quantity: &'static str,
        min: i64,
        max: i64,
        found: i64,
    ) -> Result<i64, RangeError> {
        if (min..=max).contains(&found) {
            Ok(found)
        } else {
            Err(RangeError {
                quantity,
                min,
                max,
                found,
            })
        }
    }
}

/// A MIDI channel, 1 to 16 as people count.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Channel(u8);

impl Channel {
    /// Channel 10, where General MIDI keeps its percussion.
    pub const PERCUSSION: Channel = Channel(9);

    /// Channel `number`, counted from 1.
    ///
    /// # Errors
    /// When `number` is not 1 to 16.
    pub fn new(number: u8) -> Result<Self, RangeError> {
        RangeError::check("a channel", 1, 16, i64::from(number))?;
        Ok(Channel(number - 1))
    }

    /// The number people count, 1 to 16.
    pub const fn number(self) -> u8 {
        self.0 + 1
    }

    /// The number that is sent, 0 to 15.
    pub const fn nibble(self) -> u8 {
        self.0
    }
}

impl fmt::Debug for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Channel({})", self.number())
    }
}

/// A MIDI key, 0 to 127; 60 is middle C.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeyNumber(u8);

impl KeyNumber {
    /// Key `number`.
    ///
    /// # Errors
    /// When `number` is not 0 to 127.
    pub fn new(number: i32) -> Result<Self, RangeError> {
        RangeError::check("a key", 0, 127, i64::from(number))?;
        Ok(Self::clamped(number))
    }

    /// The nearest valid key.
    pub const fn clamped(number: i32) -> Self {
        let number = if number < 0 {
            0
        } else if number > 127 {
            127
        } else {
            number
        };
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 0 to 127
        KeyNumber(number as u8)
    }

    /// The number, 0 to 127.
    pub const fn get(self) -> u8 {
        self.0
    }
}

/// How hard a key goes down, 1 to 127. (0 would be a note-off.)
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Velocity(u8);

impl Velocity {
    /// Velocity `value`.
    ///
    /// # Errors
    /// When `value` is not 1 to 127.
    pub fn new(value: i32) -> Result<Self, RangeError> {
        RangeError::check("a velocity", 1, 127, i64::from(value))?;
        Ok(Self::clamped(value))
    }

    /// The nearest valid velocity.
    pub const fn clamped(value: i32) -> Self {
        Velocity(if value < 1 {
            1
        } else {
            KeyNumber::clamped(value).0
        })
    }

    /// The value, 1 to 127.
    pub const fn get(self) -> u8 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_keep_to_their_ranges() {
        assert_eq!(Channel::new(10).unwrap(), Channel::PERCUSSION);
        assert_eq!(
            Channel::new(0).unwrap_err().to_string(),
            "a channel is 1 to 16, found 0"
        );
        assert_eq!(
            Channel::new(17).unwrap_err().to_string(),
            "a channel is 1 to 16, found 17"
        );
        assert_eq!(
            KeyNumber::new(128).unwrap_err().to_string(),
            "a key is 0 to 127, found 128"
        );
        assert_eq!(KeyNumber::clamped(200).get(), 127);
        assert_eq!(
            Velocity::new(0).unwrap_err().to_string(),
            "a velocity is 1 to 127, found 0"
        );
        assert_eq!(Velocity::clamped(-3).get(), 1);
    }
}
