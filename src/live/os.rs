//! What a timing thread asks of the system: the one place for such calls.
//!
//! Only the part for Linux has been run. Those for macOS and Windows were type-checked separately, against declarations
//! of the same shape, and reviewed; nobody has run them yet.

#![allow(unsafe_code)]

use std::fmt;

use serde::{Serialize, Serializer};

/// How the system schedules a thread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Policy {
    /// Ahead of every ordinary thread, until it waits (Linux, `SCHED_FIFO`).
    Fifo {
        /// Its real-time priority, 1 to 99.
        priority: u8,
    },
    /// A guaranteed share of every period (macOS).
    TimeConstraint,
    /// The highest priority a program may have without being a service (Windows).
    TimeCritical,
    /// In turn with everything else.
    Ordinary {
        /// Its niceness, -20 (first) to 19, where that was asked for.
        nice: Option<i8>,
        /// Its slice of the processor in nanoseconds, where a shorter one than usual was given.
        slice_ns: Option<u64>,
    },
}

/// What the system granted a timing thread. Nothing in it is an error; it is reported once, and kept in the receipt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Granted {
    /// How the thread is scheduled.
    pub policy: Policy,
    /// Whether the program's memory, now and later, is locked against being swapped out.
    pub memory_locked: bool,
    /// By how much the system may delay the thread's timers to save power, in nanoseconds, where that was set. It has
    /// no effect on a thread with real-time priority.
    pub timer_slack_ns: Option<u64>,
    /// The resolution of the system's timers in milliseconds, where that was set.
    pub timer_period_ms: Option<u32>,
}

/// What a listener can do about a refusal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Remedy {
    /// Limits that the administrator of a Linux system sets.
    Limits,
    /// Nothing: no setting grants what was refused, and memory was not asked for.
    Nothing,
}

impl Remedy {
    const HERE: Remedy = if cfg!(target_os = "linux") {
        Remedy::Limits
    } else {
        Remedy::Nothing
    };
}

/// Common practice on Linux, not a standard: the file is read by pam_limits (limits.conf(5)); the name of the group
/// varies.
const LIMITS: &str = "as is common practice, join a group such as `audio` or `realtime` to which a file in \
     /etc/security/limits.d gives `rtprio 70` and `memlock unlimited`, then log in anew";

impl Granted {
    /// What a thread has if it asks for nothing.
    pub const NOTHING: Granted = Granted {
        policy: Policy::Ordinary {
            nice: None,
            slice_ns: None,
        },
        memory_locked: false,
        timer_slack_ns: None,
        timer_period_ms: None,
    };

    /// Whether the thread runs before ordinary ones.
    pub fn is_real_time(&self) -> bool {
        !matches!(self.policy, Policy::Ordinary { .. })
    }

    /// A line for the listener where the system refused real-time priority or locked memory: what follows from that,
    /// and how to get it where a setting grants it. `None` if all was granted.
    pub fn notice(&self) -> Option<String> {
        self.notice_with(Remedy::HERE)
    }

    fn notice_with(&self, remedy: Remedy) -> Option<String> {
        let asked_for_memory = remedy == Remedy::Limits;
        let refused = match (self.is_real_time(), self.memory_locked || !asked_for_memory) {
            (true, true) => return None,
            (false, true) => {
                "no real-time priority was given, so notes may come late while the machine is busy"
            }
            (true, false) => {
                "memory was not locked, so notes may come late while the machine is short of memory"
            }
            (false, false) => {
                "neither real-time priority nor locked memory was given, so notes may come late while the machine is busy"
            }
        };
        Some(match remedy {
            Remedy::Limits => format!("{refused}; {LIMITS}"),
            Remedy::Nothing => refused.to_owned(),
        })
    }
}

impl Serialize for Granted {
    /// Flat; the field names are an interface, and what does not apply is `null`.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Flat {
            policy: &'static str,
            priority: Option<u8>,
            nice: Option<i8>,
            slice_ns: Option<u64>,
            memory_locked: bool,
            timer_slack_ns: Option<u64>,
            timer_period_ms: Option<u32>,
        }
        let (policy, priority, nice, slice_ns) = match self.policy {
            Policy::Fifo { priority } => ("fifo", Some(priority), None, None),
            Policy::TimeConstraint => ("time_constraint", None, None, None),
            Policy::TimeCritical => ("time_critical", None, None, None),
            Policy::Ordinary { nice, slice_ns } => ("ordinary", None, nice, slice_ns),
        };
        Flat {
            policy,
            priority,
            nice,
            slice_ns,
            memory_locked: self.memory_locked,
            timer_slack_ns: self.timer_slack_ns,
            timer_period_ms: self.timer_period_ms,
        }
        .serialize(serializer)
    }
}

impl fmt::Display for Granted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.policy {
            Policy::Fifo { priority } => write!(f, "real-time priority {priority}")?,
            Policy::TimeConstraint | Policy::TimeCritical => write!(f, "real-time priority")?,
            Policy::Ordinary { nice, slice_ns } => {
                write!(f, "ordinary priority")?;
                if let Some(nice) = nice.filter(|nice| *nice != 0) {
                    write!(f, ", niceness {nice}")?;
                }
                if let Some(ns) = slice_ns {
                    write!(f, ", slices of {} us", ns / 1000)?;
                }
            }
        }
        if let Some(ms) = self.timer_period_ms {
            write!(f, ", timers each {ms} ms")?;
        }
        if self.memory_locked {
            write!(f, ", memory locked")?;
        }
        Ok(())
    }
}

/// Asks the system for everything that lets the calling thread wake in time, and returns what it granted.
///
/// - Linux: `SCHED_FIFO` at priority 70 or what the limits allow below it, not handed on to threads it starts. Refused
///   that: slices of 0.1 ms (effective from Linux 6.12 on) and a niceness of -11 or what is allowed above it. Timers to
///   the nanosecond. Memory is locked, now and later, only where no limit binds this process: under a limit, locking
///   what comes later would make later allocations fail, and locking what is there would end the program when a stack
///   grows.
/// - macOS: the policy of time constraints, 0.5 ms within each millisecond it asks for.
/// - Windows: timers each millisecond until the program ends, and the time-critical priority.
/// - Elsewhere: nothing.
///
/// A refusal is not an error; see [`Granted::notice`].
///
/// # Real time
/// Makes system calls and may take milliseconds while memory is locked: call it on the thread that keeps time, before
/// the first deadline. That thread must wait or sleep often: Linux stops real-time threads that use more than 950 ms of
/// a second, so spins are kept below a millisecond.
pub fn prepare_timing_thread() -> Granted {
    system::prepare()
}

/// Asks the system to run the calling thread, which makes sound for a device, ahead of ordinary ones, and returns what
/// it granted. macOS and Windows do so by themselves. A refusal is not an error.
///
/// # Real time
/// Makes a few system calls and takes microseconds.
pub fn raise_audio_thread() -> Granted {
    #[cfg(target_os = "linux")]
    return system::raise_thread();
    #[cfg(not(target_os = "linux"))]
    Granted::NOTHING
}

/// The time that the host of a virtual machine took from all its processors since the start, in nanoseconds, in steps of
/// 10 ms; `None` where the system does not tell.
///
/// # Real time
/// Reads a file and allocates: not between deadlines.
pub fn stolen_ns() -> Option<u64> {
    system::stolen_ns()
}

#[cfg(target_os = "linux")]
mod system {
    use std::mem::size_of;
    use std::num::NonZeroU64;

    use rustix::mm::{MlockAllFlags, mlockall};
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    use rustix::thread::set_current_timer_slack;

    use super::{Granted, Policy};

    const PRIORITY: u8 = 70;
    const NICE: i8 = -11;
    const SLICE_NS: u64 = 100_000;
    const SLACK_NS: NonZeroU64 = NonZeroU64::MIN;

    pub(super) fn prepare() -> Granted {
        let slack = set_current_timer_slack(Some(SLACK_NS));
        Granted {
            memory_locked: lock_memory(),
            timer_slack_ns: slack.is_ok().then_some(SLACK_NS.get()),
            ..raise_thread()
        }
    }

    pub(super) fn raise_thread() -> Granted {
        raise(Resource::Rtprio);
        let policy = match (1..=PRIORITY).rev().find(|p| set_fifo(*p)) {
            Some(priority) => Policy::Fifo { priority },
            None => shorten_slices(),
        };
        Granted {
            policy,
            ..Granted::NOTHING
        }
    }

    /// What is left where real-time priority is refused.
    fn shorten_slices() -> Policy {
        raise(Resource::Nice);
        let now = attributes().map_or(0, |a| i8::try_from(a.sched_nice).unwrap_or(0));
        let nice = (NICE.min(now)..=now).find(|n| set_slice(*n));
        // An older system accepts the request and ignores it, so check the result.
        let slice_ns = attributes()
            .map(|a| a.sched_runtime)
            .filter(|ns| *ns == SLICE_NS);
        Policy::Ordinary { nice, slice_ns }
    }

    fn lock_memory() -> bool {
        raise(Resource::Memlock);
        let unbound = match getrlimit(Resource::Memlock).current {
            None => true,
            // A process that may lock more than the limit is not bound by it, now or later.
            Some(limit) => {
                mapped_bytes().is_some_and(|bytes| bytes > limit)
                    && mlockall(MlockAllFlags::CURRENT).is_ok()
            }
        };
        unbound && mlockall(MlockAllFlags::CURRENT | MlockAllFlags::FUTURE).is_ok()
    }

    /// All the memory of this process, touched or not.
    fn mapped_bytes() -> Option<u64> {
        let text = std::fs::read_to_string("/proc/self/statm").ok()?;
        let pages: u64 = text.split(' ').next()?.parse().ok()?;
        pages.checked_mul(u64::try_from(rustix::param::page_size()).ok()?)
    }

    /// Lifts the limit in force to the highest that this process may set without asking.
    fn raise(resource: Resource) {
        let Rlimit { maximum, .. } = getrlimit(resource);
        let lifted = Rlimit {
            current: maximum,
            maximum,
        };
        let _ = setrlimit(resource, lifted);
    }

    fn set_fifo(priority: u8) -> bool {
        set(&libc::sched_attr {
            sched_policy: libc::SCHED_FIFO.unsigned_abs(),
            sched_priority: u32::from(priority),
            ..ordinary()
        })
    }

    fn set_slice(nice: i8) -> bool {
        set(&libc::sched_attr {
            sched_nice: i32::from(nice),
            sched_runtime: SLICE_NS,
            ..ordinary()
        })
    }

    fn ordinary() -> libc::sched_attr {
        libc::sched_attr {
            size: SIZE,
            sched_policy: libc::SCHED_OTHER.unsigned_abs(),
            sched_flags: 1, // SCHED_FLAG_RESET_ON_FORK
            sched_nice: 0,
            sched_priority: 0,
            sched_runtime: 0,
            sched_deadline: 0,
            sched_period: 0,
        }
    }

    #[allow(clippy::cast_possible_truncation)] // 48
    const SIZE: u32 = size_of::<libc::sched_attr>() as u32;

    /// Sets how the calling thread is scheduled. By libc: rustix has no call for a thread's policy.
    fn set(attributes: &libc::sched_attr) -> bool {
        let attributes: *const libc::sched_attr = attributes;
        // SAFETY: the arguments are those of sched_setattr(2): 0 for the calling thread, a whole structure with its size
        // in it that outlives the call and is only read, and no flags.
        unsafe { libc::syscall(libc::SYS_sched_setattr, 0, attributes, 0) == 0 }
    }

    /// How the calling thread is scheduled. By libc, as [`set`].
    fn attributes() -> Option<libc::sched_attr> {
        let mut found = ordinary();
        // SAFETY: the arguments are those of sched_getattr(2): 0 for the calling thread, a structure of ours to fill, its
        // size, and no flags.
        let answer = unsafe { libc::syscall(libc::SYS_sched_getattr, 0, &raw mut found, SIZE, 0) };
        (answer == 0).then_some(found)
    }

    pub(super) fn stolen_ns() -> Option<u64> {
        let text = std::fs::read_to_string("/proc/stat").ok()?;
        super::stolen_in(&text, rustix::param::clock_ticks_per_second())
    }
}

#[cfg(target_os = "macos")]
#[allow(deprecated)] // another crate is named for these; it would be one more for four declarations
mod system {
    // By libc: rustix has nothing of Mach.
    use super::{Granted, Policy};

    /// Of each millisecond in which it asks for time, half: the longest spin.
    const COMPUTATION_NS: u64 = 500_000;
    const CONSTRAINT_NS: u64 = 1_000_000;

    pub(super) fn prepare() -> Granted {
        match constrain() {
            Some(()) => Granted {
                policy: Policy::TimeConstraint,
                ..Granted::NOTHING
            },
            None => Granted::NOTHING,
        }
    }

    fn constrain() -> Option<()> {
        let mut base = libc::mach_timebase_info { numer: 0, denom: 0 };
        // SAFETY: the pointer is to a whole structure of ours, which the call fills.
        if unsafe { libc::mach_timebase_info(&raw mut base) } != 0 || base.numer == 0 {
            return None;
        }
        let ticks =
            |ns: u64| u32::try_from(ns * u64::from(base.denom) / u64::from(base.numer)).ok();
        let mut policy = libc::thread_time_constraint_policy {
            period: 0, // not a steady one
            computation: ticks(COMPUTATION_NS)?,
            constraint: ticks(CONSTRAINT_NS)?,
            preemptible: 1,
        };
        // SAFETY: `pthread_self` always gives the calling thread, whose port lives as long as the thread and must not
        // be freed.
        let thread = unsafe { libc::pthread_mach_thread_np(libc::pthread_self()) };
        // SAFETY: the pointer is to a whole structure of the kind and the count that the flavor names, which outlives
        // the call.
        let answer = unsafe {
            libc::thread_policy_set(
                thread,
                libc::THREAD_TIME_CONSTRAINT_POLICY.unsigned_abs(),
                (&raw mut policy).cast(),
                libc::THREAD_TIME_CONSTRAINT_POLICY_COUNT,
            )
        };
        (answer == 0).then_some(())
    }

    pub(super) fn stolen_ns() -> Option<u64> {
        None
    }
}

#[cfg(windows)]
mod system {
    use std::ffi::c_void;

    use super::{Granted, Policy};

    const PERIOD_MS: u32 = 1;
    const TIME_CRITICAL: i32 = 15; // THREAD_PRIORITY_TIME_CRITICAL

    #[link(name = "winmm", kind = "raw-dylib")]
    unsafe extern "system" {
        #[link_name = "timeBeginPeriod"]
        fn time_begin_period(milliseconds: u32) -> u32;
    }

    #[link(name = "kernel32", kind = "raw-dylib")]
    unsafe extern "system" {
        #[link_name = "GetCurrentThread"]
        fn get_current_thread() -> *mut c_void;
        #[link_name = "SetThreadPriority"]
        fn set_thread_priority(thread: *mut c_void, priority: i32) -> i32;
    }

    pub(super) fn prepare() -> Granted {
        // SAFETY: takes a number; the request ends with the program.
        let finer = unsafe { time_begin_period(PERIOD_MS) } == 0;
        // SAFETY: takes nothing; the pseudo-handle it returns means the calling thread wherever it is used, and must
        // not be closed.
        let thread = unsafe { get_current_thread() };
        // SAFETY: the handle is the calling thread's.
        let first = unsafe { set_thread_priority(thread, TIME_CRITICAL) } != 0;
        Granted {
            policy: if first {
                Policy::TimeCritical
            } else {
                Granted::NOTHING.policy
            },
            timer_period_ms: finer.then_some(PERIOD_MS),
            ..Granted::NOTHING
        }
    }

    pub(super) fn stolen_ns() -> Option<u64> {
        None
    }
}

#[cfg(not(any(target_os = "linux", target_os = "macos", windows)))]
mod system {
    pub(super) fn prepare() -> super::Granted {
        super::Granted::NOTHING
    }

    pub(super) fn stolen_ns() -> Option<u64> {
        None
    }
}

/// The stolen time in the text of `/proc/stat`: the eighth figure of its first line, in `1 / per_second` seconds.
#[cfg(any(target_os = "linux", test))]
fn stolen_in(text: &str, per_second: u64) -> Option<u64> {
    let mut words = text.lines().next()?.split_ascii_whitespace();
    if words.next() != Some("cpu") {
        return None;
    }
    let ticks: u64 = words.nth(7)?.parse().ok()?;
    ticks.checked_mul(1_000_000_000)?.checked_div(per_second)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stolen_time_is_the_eighth_figure() {
        let text = "cpu  10 20 30 40 50 60 70 83 90 100\ncpu0 1 2 3 4 5 6 7 8 9 10\n";
        assert_eq!(stolen_in(text, 100), Some(830_000_000));
        assert_eq!(stolen_in(text, 1000), Some(83_000_000));
        assert_eq!(stolen_in("cpu 1 2 3 4 5 6 7", 100), None);
        assert_eq!(stolen_in("cpu0 1 2 3 4 5 6 7 8", 100), None);
        assert_eq!(stolen_in(text, 0), None);
        assert_eq!(stolen_in("", 100), None);
    }

    const FIFO: Granted = Granted {
        policy: Policy::Fifo { priority: 70 },
        memory_locked: true,
        timer_slack_ns: Some(1),
        timer_period_ms: None,
    };

    const TURN: Granted = Granted {
        policy: Policy::Ordinary {
            nice: Some(-11),
            slice_ns: Some(100_000),
        },
        ..Granted::NOTHING
    };

    #[test]
    fn what_was_granted_in_words() {
        assert_eq!(FIFO.to_string(), "real-time priority 70, memory locked");
        assert_eq!(
            TURN.to_string(),
            "ordinary priority, niceness -11, slices of 100 us"
        );
    }

    #[test]
    fn what_was_granted_as_programs_read_it() {
        let json = |granted| serde_json::to_string(&granted).unwrap();
        assert_eq!(
            json(FIFO),
            r#"{"policy":"fifo","priority":70,"nice":null,"slice_ns":null,"memory_locked":true,"timer_slack_ns":1,"timer_period_ms":null}"#
        );
        assert_eq!(
            json(TURN),
            r#"{"policy":"ordinary","priority":null,"nice":-11,"slice_ns":100000,"memory_locked":false,"timer_slack_ns":null,"timer_period_ms":null}"#
        );
    }

    #[test]
    fn each_refusal_is_a_line_that_says_how_to_get_what_was_refused() {
        let unlocked = Granted {
            memory_locked: false,
            ..FIFO
        };
        let locked = Granted {
            memory_locked: true,
            ..TURN
        };
        let constrained = Granted {
            policy: Policy::TimeConstraint,
            ..Granted::NOTHING
        };
        let lines = [unlocked, locked, TURN].map(|g| g.notice_with(Remedy::Limits).unwrap());
        insta::assert_snapshot!(lines.join("\n"), @"
        memory was not locked, so notes may come late while the machine is short of memory; as is common practice, join a group such as `audio` or `realtime` to which a file in /etc/security/limits.d gives `rtprio 70` and `memlock unlimited`, then log in anew
        no real-time priority was given, so notes may come late while the machine is busy; as is common practice, join a group such as `audio` or `realtime` to which a file in /etc/security/limits.d gives `rtprio 70` and `memlock unlimited`, then log in anew
        neither real-time priority nor locked memory was given, so notes may come late while the machine is busy; as is common practice, join a group such as `audio` or `realtime` to which a file in /etc/security/limits.d gives `rtprio 70` and `memlock unlimited`, then log in anew
        ");
        assert_eq!(FIFO.notice_with(Remedy::Limits), None);
        // Elsewhere memory is not asked for, and no setting grants the priority.
        let elsewhere = |granted: Granted| granted.notice_with(Remedy::Nothing);
        assert_eq!(elsewhere(constrained), None);
        assert_eq!(
            elsewhere(TURN).as_deref(),
            Some(
                "no real-time priority was given, so notes may come late while the machine is busy"
            )
        );
    }

    /// The result must match what the system says about the thread, whatever that is here.
    #[test]
    #[cfg(target_os = "linux")]
    fn what_was_granted_is_what_the_system_tells() {
        let (granted, stat, status) = std::thread::spawn(|| {
            let granted = prepare_timing_thread();
            let read = |name: &str| std::fs::read_to_string(name).unwrap();
            let told = (
                granted,
                read("/proc/thread-self/stat"),
                read("/proc/thread-self/status"),
            );
            // What `prepare_timing_thread` asked for is not for the other tests.
            let _ = rustix::mm::munlockall();
            told
        })
        .join()
        .unwrap();
        // Fields are counted from 1 in proc(5); the second may hold spaces and ends with a parenthesis.
        let fields: Vec<i64> = stat[stat.rfind(')').unwrap() + 1..]
            .split_whitespace()
            .skip(1)
            .map(|word| word.parse().unwrap_or(i64::MAX))
            .collect();
        let field = |number: usize| fields[number - 4];
        assert_eq!(field(41), i64::from(granted.is_real_time()));
        match granted.policy {
            Policy::Fifo { priority } => assert_eq!(field(40), i64::from(priority)),
            Policy::Ordinary { nice, .. } => {
                assert_eq!(field(40), 0);
                assert!(
                    nice.is_none_or(|nice| field(19) == i64::from(nice)),
                    "{stat}"
                );
            }
            other => panic!("{other:?}"),
        }
        let locked = status.lines().find(|l| l.starts_with("VmLck:")).unwrap();
        assert_eq!(!locked.contains(" 0 kB"), granted.memory_locked, "{locked}");
        assert_eq!(granted.timer_slack_ns, Some(1));
    }
}
