//! Stand-ins for SoundFonts where the feature `font` is off: empty types, so that other code need not know. No
//! SoundFont can be loaded.

use std::fmt;

use crate::event::{Channel, Message};

/// A loaded SoundFont; there is none without the feature `font`.
#[derive(Clone, Debug)]
pub enum Font {}

/// What is wrong with a SoundFont; there is nothing without the feature `font`.
#[derive(Clone, Debug)]
pub enum FontError {}

impl fmt::Display for FontError {
    fn fmt(&self, _: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {}
    }
}

impl std::error::Error for FontError {}

/// What plays a SoundFont.
pub(super) enum FontSynth {}

impl FontSynth {
    pub(super) fn new(font: &Font, _rate_hz: u32) -> Result<Self, FontError> {
        match *font {}
    }

    pub(super) fn message(&mut self, _channel: Channel, _message: Message) {
        match *self {}
    }

    pub(super) fn silence(&mut self) {
        match *self {}
    }

    pub(super) fn render(&mut self, _left: &mut [f32], _right: &mut [f32]) {
        match *self {}
    }
}
