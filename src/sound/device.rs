//! Audio devices: listing and opening.

use std::fmt;
use std::thread;
use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait};
use cpal::{ErrorKind, SampleFormat};
use crossbeam_channel::bounded;

use crate::diagnostic::Diagnostic;
use crate::midi::Quiet;

/// What is wrong with an audio device.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DeviceError {
    /// The system has no sound.
    #[error("this system has no sound to play to ({0})")]
    NoSystem(String),
    /// There is no device at all.
    #[error("there is no audio device to play to")]
    NoDevices,
    /// No device has this name.
    #[error("no audio device is called `{0}`")]
    Unknown(String),
    /// Several devices have this name.
    #[error("several audio devices match `{wanted}`: {}", list(found))]
    Several {
        /// The number or name that was asked for.
        wanted: String,
        /// The devices that match, in the order of the list.
        found: Vec<ListedDevice>,
    },
    /// The device cannot be opened.
    #[error("the audio device `{name}` cannot be opened ({cause})")]
    Open {
        /// The name of the device.
        name: String,
        /// What the system said.
        cause: String,
    },
    /// The device takes no kind of samples we can make.
    #[error("the audio device `{name}` wants {format} samples, which are not supported")]
    Format {
        /// The name of the device.
        name: String,
        /// The sample format it wants.
        format: String,
    },
    /// The device does not play at the rate that is needed.
    #[error("the audio device `{name}` does not play at {rate} Hz")]
    Rate {
        /// The name of the device.
        name: String,
        /// The rate that is needed, in hertz.
        rate: u32,
    },
    /// The device went away or fell silent while it played.
    #[error("the audio device `{name}` is gone ({cause})")]
    Vanished {
        /// The name of the device.
        name: String,
        /// What the system said.
        cause: String,
    },
    /// The sound system hangs.
    #[error("the sound system does not answer")]
    Blocked,
    /// Making the sound failed.
    #[error("making the sound failed; this is a bug in fivefold")]
    Feed,
}

impl Diagnostic for DeviceError {
    fn code(&self) -> &'static str {
        match self {
            DeviceError::NoSystem(_) => "sound-no-system",
            DeviceError::NoDevices => "sound-none",
            DeviceError::Unknown(_) => "sound-unknown",
            DeviceError::Several { .. } => "sound-several",
            DeviceError::Open { .. } => "sound-open",
            DeviceError::Format { .. } => "sound-format",
            DeviceError::Rate { .. } => "sound-rate",
            DeviceError::Vanished { .. } => "sound-gone",
            DeviceError::Blocked => "sound-blocked",
            DeviceError::Feed => "sound-feed",
        }
    }

    fn help(&self) -> String {
        match self {
            DeviceError::NoSystem(_) | DeviceError::NoDevices => {
                "write a file instead: `-o piece.wav`; or connect a sound card or start a sound server"
            }
            DeviceError::Unknown(_) | DeviceError::Several { .. } => {
                "give a name, a part of one, or a number of the list; or write a file: `-o piece.wav`"
            }
            DeviceError::Open { .. } => {
                "close the program that uses it, or choose another; or write a file: `-o piece.wav`"
            }
            DeviceError::Format { .. } | DeviceError::Rate { .. } => {
                "choose another device; or write a file: `-o piece.wav`"
            }
            DeviceError::Vanished { .. } | DeviceError::Blocked => {
                "check the device, its cable and the sound server, then start again; or write a file: `-o piece.wav`"
            }
            DeviceError::Feed => {
                "please report it; writing a file may still work: `-o piece.wav`"
            }
        }
        .to_owned()
    }
}

fn list(devices: &[ListedDevice]) -> String {
    devices
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(", ")
}

/// An audio device the system lists.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListedDevice {
    /// Number, counted from 1 in the order of the list.
    pub number: usize,
    /// The name people see; two devices may share it.
    pub name: String,
    /// The system's own identifier; unlike the name, it is unique.
    pub id: String,
    /// Whether it is the default.
    pub is_default: bool,
}

impl fmt::Display for ListedDevice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.number, self.name)?;
        if self.id != self.name {
            write!(f, " ({})", self.id)?;
        }
        Ok(())
    }
}

/// How long a driver may take to answer. A sound server that hangs would block us for half a minute.
const ANSWER: Duration = Duration::from_secs(3);

/// Asks the system something on a thread of its own, with the library's messages kept off the terminal; `None` where no
/// answer comes in time. The thread then waits on, and ends with the program.
pub(super) fn ask<T: Send + 'static>(
    limit: Duration,
    question: impl FnOnce() -> T + Send + 'static,
) -> Option<T> {
    let (answer, answered) = bounded(1);
    thread::Builder::new()
        .name("sound".to_owned())
        .spawn(move || {
            let _quiet = Quiet::new();
            let _ = answer.try_send(question());
        })
        .ok()?;
    answered.recv_timeout(limit).ok()
}

/// Names in ALSA's list that are no real outputs: one discards everything, the others convert sound for a device that
/// is listed anyway.
const NOWHERE: [&str; 8] = [
    "null",
    "lavrate",
    "samplerate",
    "speexrate",
    "speex",
    "upmix",
    "vdownmix",
    "oss",
];

fn host() -> Result<cpal::Host, DeviceError> {
    let none = || DeviceError::NoSystem("none is known for it".to_owned());
    let id = cpal::available_hosts()
        .into_iter()
        .next()
        .ok_or_else(none)?;
    cpal::host_from_id(id).map_err(|e| DeviceError::NoSystem(cause(&e)))
}

/// What the system said, without the name of the function it was said by.
pub(super) fn cause(error: &cpal::Error) -> String {
    let text = error.to_string();
    let said = text
        .split_once("failed with error '")
        .and_then(|(_, rest)| rest.split_once('\''));
    match said {
        Some((said, _)) => said.to_owned(),
        None => text.trim_end_matches('.').to_owned(),
    }
}

fn name_of(device: &cpal::Device) -> Option<(String, String)> {
    let id = device.id().ok()?.id().to_owned();
    let name = device
        .description()
        .map(|d| d.name().to_owned())
        .unwrap_or_else(|_| id.clone());
    Some((name, id))
}

/// The devices that play, the default first where the system does not list it among the others.
fn listed(host: &cpal::Host) -> Vec<(ListedDevice, cpal::Device)> {
    let default = host.default_output_device();
    let default_id = default
        .as_ref()
        .and_then(|d| d.id().ok())
        .map(|id| id.id().to_owned());
    let mut found: Vec<(String, String, cpal::Device)> = host
        .output_devices()
        .into_iter()
        .flatten()
        .filter_map(|device| name_of(&device).map(|(name, id)| (name, id, device)))
        .filter(|(_, id, _)| !NOWHERE.contains(&id.as_str()))
        .collect();
    if let Some(default) = default
        && !found.iter().any(|(_, id, _)| Some(id) == default_id.as_ref())
        // Some systems name a default although there is no device: only opening it shows.
        && default.default_output_config().is_ok()
        && let Some((name, id)) = name_of(&default)
    {
        found.insert(0, (name, id, default));
    }
    found
        .into_iter()
        .zip(1..)
        .map(|((name, id, device), number)| {
            let is_default = Some(&id) == default_id.as_ref();
            (
                ListedDevice {
                    number,
                    name,
                    id,
                    is_default,
                },
                device,
            )
        })
        .collect()
}

/// The audio devices that play; none on a machine without sound.
///
/// # Errors
/// When the system has no sound at all, or does not answer within three seconds.
pub fn list_devices() -> Result<Vec<ListedDevice>, DeviceError> {
    ask(ANSWER, || {
        let host = host()?;
        Ok(listed(&host).into_iter().map(|(d, _)| d).collect())
    })
    .unwrap_or(Err(DeviceError::Blocked))
}

/// Which device of a list is meant by a number, a name, or a part of a name (in any case); the system's own name serves
/// as well. A whole name wins over parts of others.
fn choose<'a>(devices: &'a [ListedDevice], wanted: &str) -> Result<&'a ListedDevice, DeviceError> {
    if devices.is_empty() {
        return Err(DeviceError::NoDevices);
    }
    if let Some(device) = devices.iter().find(|d| d.id == wanted) {
        return Ok(device);
    }
    let called: Vec<&ListedDevice> = devices.iter().filter(|d| d.name == wanted).collect();
    if let [one] = called.as_slice() {
        return Ok(one);
    }
    if let Ok(number) = wanted.parse::<usize>() {
        return devices
            .iter()
            .find(|d| d.number == number)
            .ok_or_else(|| DeviceError::Unknown(wanted.to_owned()));
    }
    let lower = wanted.to_lowercase();
    let found: Vec<&ListedDevice> = devices
        .iter()
        .filter(|d| d.name.to_lowercase().contains(&lower) || d.id.to_lowercase().contains(&lower))
        .collect();
    match found.as_slice() {
        [one] if !wanted.is_empty() => Ok(one),
        [] => Err(DeviceError::Unknown(wanted.to_owned())),
        several => Err(DeviceError::Several {
            wanted: wanted.to_owned(),
            found: several.iter().map(|d| (*d).clone()).collect(),
        }),
    }
}

/// Opens a device: by number, name, part of a name, or what the system calls it; the default where `wanted` is `None`.
///
/// # Errors
/// When there is no sound, no such device, several such devices, the device cannot be opened or does not answer within
/// three seconds, or it takes no samples we can make.
pub fn open_device(wanted: Option<&str>) -> Result<Device, DeviceError> {
    let wanted = wanted.map(str::to_owned);
    ask(ANSWER, move || open(wanted.as_deref())).unwrap_or(Err(DeviceError::Blocked))
}

fn open(wanted: Option<&str>) -> Result<Device, DeviceError> {
    let host = host()?;
    let (device, name) = match wanted {
        None => {
            let device = host.default_output_device().ok_or(DeviceError::NoDevices)?;
            let (name, _) = name_of(&device).ok_or(DeviceError::NoDevices)?;
            (device, name)
        }
        Some(wanted) => {
            let mut devices = listed(&host);
            let names: Vec<ListedDevice> = devices.iter().map(|(d, _)| d.clone()).collect();
            let chosen = choose(&names, wanted)?;
            let (_, device) = devices.swap_remove(chosen.number - 1);
            (device, chosen.name.clone())
        }
    };
    let config = device.default_output_config().map_err(|e| {
        // Where no device was named, a missing default means that there is none, and one that cannot be opened that there is no
        // sound system. A named one is reported as it is.
        match e.kind() {
            ErrorKind::DeviceNotAvailable if wanted.is_none() => DeviceError::NoDevices,
            ErrorKind::HostUnavailable | ErrorKind::BackendError if wanted.is_none() => {
                DeviceError::NoSystem(cause(&e))
            }
            _ => DeviceError::Open {
                name: name.clone(),
                cause: cause(&e),
            },
        }
    })?;
    let format = config.sample_format();
    if !(format.is_int() || format.is_uint() || format.is_float()) {
        return Err(DeviceError::Format {
            name,
            format: format.to_string(),
        });
    }
    Ok(Device {
        device,
        name,
        rate: config.sample_rate(),
        channels: config.channels(),
        format,
        buffer: safe_buffer(config.buffer_size()),
    })
}

/// The default buffer in frames: 43 ms at 48 kHz. Devices themselves often propose a quarter of that, which stutters on
/// a busy machine. Measured on a null sink beside two busy processes a core: 6 dropouts in 67 s; with 512 frames 17.5 a
/// minute.
const SAFE_FRAMES: u32 = 2048;

/// The buffer to ask for, in frames, of a device that takes such sizes; `None` where it does not say, which leaves the size
/// to the device.
fn safe_buffer(takes: &cpal::SupportedBufferSize) -> Option<u32> {
    match *takes {
        cpal::SupportedBufferSize::Range { min, max } if min <= max => {
            Some(SAFE_FRAMES.clamp(min, max))
        }
        _ => None,
    }
}

/// An audio device, opened and not yet playing.
pub struct Device {
    pub(super) device: cpal::Device,
    pub(super) name: String,
    pub(super) rate: u32,
    pub(super) channels: u16,
    pub(super) format: SampleFormat,
    pub(super) buffer: Option<u32>,
}

impl Device {
    /// The name of the device, as listed.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Frames a second: what the device itself proposes, or what [`Device::at_rate`] asked for.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// How many channels it takes. Sound is made in stereo: one channel gets the mean of both, channels beyond the
    /// second get silence.
    pub fn channels(&self) -> u16 {
        self.channels
    }

    /// The kind of samples it takes, as a short name.
    pub fn format(&self) -> String {
        self.format.to_string()
    }

    /// The same device at another rate, with the channels and samples it proposed.
    ///
    /// # Errors
    /// When the device does not play at that rate.
    pub fn at_rate(self, rate: u32) -> Result<Device, DeviceError> {
        if rate == self.rate {
            return Ok(self);
        }
        let _quiet = Quiet::new();
        let takes = self
            .device
            .supported_output_configs()
            .into_iter()
            .flatten()
            .any(|range| {
                range.channels() == self.channels
                    && range.sample_format() == self.format
                    && (range.min_sample_rate()..=range.max_sample_rate()).contains(&rate)
            });
        if takes {
            Ok(Device { rate, ..self })
        } else {
            Err(DeviceError::Rate {
                name: self.name,
                rate,
            })
        }
    }

    /// The same device with a buffer of `frames`; `None` keeps what is safe on a busy machine, 2048 if the device
    /// accepts that. A larger buffer has fewer dropouts, and everything is heard about two buffers later.
    pub fn with_buffer(self, frames: Option<u32>) -> Device {
        Device {
            buffer: frames.or(self.buffer),
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn devices() -> Vec<ListedDevice> {
        [
            ("Default Audio Device", "default", true),
            ("Desk card, Analog", "hw:CARD=0,DEV=0", false),
            ("Desk card, Analog", "plughw:CARD=0,DEV=0", false),
            ("7 speakers", "surround71", false),
        ]
        .iter()
        .zip(1..)
        .map(|((name, id, is_default), number)| ListedDevice {
            number,
            name: (*name).to_owned(),
            id: (*id).to_owned(),
            is_default: *is_default,
        })
        .collect()
    }

    #[test]
    fn a_device_by_number_name_part_of_a_name_or_the_systems_name() {
        let devices = devices();
        let id = |wanted: &str| choose(&devices, wanted).map(|d| d.id.clone());
        assert_eq!(id("2").unwrap(), "hw:CARD=0,DEV=0");
        assert_eq!(id("plughw:CARD=0,DEV=0").unwrap(), "plughw:CARD=0,DEV=0");
        assert_eq!(id("AUDIO dev").unwrap(), "default");
        assert_eq!(id("plug").unwrap(), "plughw:CARD=0,DEV=0");
        assert_eq!(id("7 sp").unwrap(), "surround71");
        assert_eq!(id("7 speakers").unwrap(), "surround71");
    }

    #[test]
    fn a_device_that_is_none_says_so() {
        let devices = devices();
        let wrong = |wanted: &str| choose(&devices, wanted).unwrap_err();
        assert_eq!(wrong("9").to_string(), "no audio device is called `9`");
        assert_eq!(
            wrong("piano").to_string(),
            "no audio device is called `piano`"
        );
        // Between two devices of one name there is no guessing, even if the whole name is given.
        assert_eq!(
            wrong("Desk card, Analog").to_string(),
            "several audio devices match `Desk card, Analog`: 2 Desk card, Analog (hw:CARD=0,DEV=0), \
             3 Desk card, Analog (plughw:CARD=0,DEV=0)"
        );
        assert_eq!(wrong("").code(), "sound-several");
        assert!(wrong("").help().contains("-o piece.wav"));
        assert_eq!(choose(&[], "x").unwrap_err(), DeviceError::NoDevices);
    }

    #[test]
    fn a_question_nobody_answers_is_given_up() {
        let (keep, never) = bounded::<()>(1);
        assert!(ask(Duration::from_millis(1), move || never.recv()).is_none());
        drop(keep);
        assert_eq!(ask(Duration::from_secs(60), || 3), Some(3));
        // A request that panics is given up at once.
        let broken = ask(Duration::from_secs(3600), || {
            assert_eq!(1, 2, "meant to happen");
        });
        assert!(broken.is_none());
    }

    #[test]
    fn a_cause_is_what_the_system_said() {
        let said =
            |text: &'static str| cause(&cpal::Error::with_message(ErrorKind::BackendError, text));
        assert_eq!(
            said("ALSA function 'snd_pcm_open' failed with error 'Connection refused (111)'"),
            "Connection refused (111)"
        );
        assert_eq!(said("Device disconnected."), "Device disconnected");
    }

    #[test]
    fn every_error_tells_of_a_file() {
        let name = || "card".to_owned();
        let errors = [
            DeviceError::NoSystem(name()),
            DeviceError::NoDevices,
            DeviceError::Unknown(name()),
            DeviceError::Several {
                wanted: name(),
                found: Vec::new(),
            },
            DeviceError::Open {
                name: name(),
                cause: name(),
            },
            DeviceError::Format {
                name: name(),
                format: name(),
            },
            DeviceError::Rate {
                name: name(),
                rate: 1,
            },
            DeviceError::Vanished {
                name: name(),
                cause: name(),
            },
            DeviceError::Blocked,
            DeviceError::Feed,
        ];
        let mut codes: Vec<_> = errors.iter().map(DeviceError::code).collect();
        for error in &errors {
            assert!(error.help().contains("-o piece.wav"), "{error}");
        }
        codes.sort_unstable();
        codes.dedup();
        assert_eq!(codes.len(), errors.len());
    }
}
