//! What a chord or a scale is.

use std::fmt::Write;

use serde::Serialize;

use crate::theory::{Chord, Harmony, Scale};

/// A chord, for `chord` and its JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChordView {
    /// The canonical symbol.
    pub symbol: String,
    /// The root; `null` for N.C.
    pub root: Option<String>,
    /// The bass: the slash bass, or the root.
    pub bass: Option<String>,
    /// The MusicXML 4.0 kind.
    pub kind: String,
    /// Spelled tones, root first.
    pub tones: Vec<String>,
    /// Degrees above the root, counted from the major scale.
    pub degrees: Vec<String>,
    /// Pitch classes from C = 0, rising.
    pub pitch_classes: Vec<u8>,
}

impl ChordView {
    /// A chord, or none.
    pub fn new(harmony: &Harmony) -> Self {
        match harmony {
            Harmony::Chord(chord) => Self::chord(chord),
            _ => ChordView {
                symbol: harmony.to_string(),
                root: None,
                bass: None,
                kind: "none".to_owned(),
                tones: Vec::new(),
                degrees: Vec::new(),
                pitch_classes: Vec::new(),
            },
        }
    }

    fn chord(chord: &Chord) -> Self {
        ChordView {
            symbol: chord.to_string(),
            root: Some(chord.root().to_string()),
            bass: Some(chord.bass().to_string()),
            kind: chord.kind().as_str().to_owned(),
            tones: chord.tones().iter().map(ToString::to_string).collect(),
            degrees: chord.degrees().iter().map(ToString::to_string).collect(),
            pitch_classes: chord.pitch_classes().iter().map(|c| c.value()).collect(),
        }
    }

    /// The chord as text.
    pub fn text(&self) -> String {
        let mut out = format!("{}  {}\n", self.symbol, self.kind);
        if let (Some(root), Some(bass)) = (&self.root, &self.bass) {
            let _ = writeln!(out, "root     {root}");
            if bass != root {
                let _ = writeln!(out, "bass     {bass}");
            }
            rows(&mut out, &self.tones, &self.degrees);
        }
        out
    }
}

/// Notes above degrees, in columns.
fn rows(out: &mut String, notes: &[String], degrees: &[String]) {
    let width = |i: usize| notes[i].chars().count().max(degrees[i].chars().count());
    for (label, cells) in [("notes    ", notes), ("degrees  ", degrees)] {
        let line: Vec<String> = cells
            .iter()
            .enumerate()
            .map(|(i, c)| format!("{c:<w$}", w = width(i)))
            .collect();
        let _ = writeln!(out, "{label}{}", line.join("  ").trim_end());
    }
}

/// A scale, for `scale` and its JSON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ScaleView {
    /// Root and name.
    pub name: String,
    /// The root.
    pub root: String,
    /// Spelled notes, root first.
    pub notes: Vec<String>,
    /// Degrees, counted from the major scale.
    pub degrees: Vec<String>,
    /// Pitch classes from C = 0, in the order of the notes.
    pub pitch_classes: Vec<u8>,
    /// The seven-note scale it is heard in, where it has one of its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub home: Option<String>,
}

impl ScaleView {
    /// A scale.
    pub fn new(scale: &Scale) -> Self {
        ScaleView {
            name: scale.name(),
            root: scale.root().to_string(),
            notes: scale.notes().iter().map(ToString::to_string).collect(),
            degrees: scale.degrees().iter().map(ToString::to_string).collect(),
            pitch_classes: scale.pitch_classes().iter().map(|c| c.value()).collect(),
            home: scale
                .home()
                .map(|home| home.name())
                .filter(|home| *home != scale.name()),
        }
    }

    /// The scale as text.
    pub fn text(&self) -> String {
        let mut out = format!("{}\n", self.name);
        rows(&mut out, &self.notes, &self.degrees);
        if let Some(home) = &self.home {
            let _ = writeln!(out, "home     {home}");
        }
        out
    }
}
