//! What a thread that keeps time asks of the system: the one place for such calls.
//!
//! Only the part for Linux has been run. Those for macOS and Windows were checked by the compiler on their own, against
//! declarations of the same shape, and by reading; nobody has heard them yet.

#![allow(unsafe_code)]

use std::fmt;

use serde::Serialize;

/// How the system gives a thread its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Policy {
    /// Before every ordinary thread, until it waits (Linux, `SCHED_FIFO`).
    Fifo,
    /// A promised share of every stretch of time (macOS).
    TimeConstraint,
    /// The highest priority a program may have without being a service (Windows).
    TimeCritical,
    /// In turn with everything else.
    Ordinary,
}

/// What the system gave a thread that keeps time. Nothing in it is an error; it is said once, and kept in the receipt.
///
/// Serialized, the names of the fields are an interface; what does not apply is `null`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Granted {
    /// How the thread gets its time.
    pub policy: Policy,
    /// Its real-time priority, 1 to 99, where it has one.
    pub priority: Option<u8>,
    /// Its niceness, -20 (first) to 19, where that was asked for.
    pub nice: Option<i8>,
    /// Its slice of the processor in nanoseconds, where a shorter one than usual was given.
    pub slice_ns: Option<u64>,
    /// Whether the program's memory, now and later, is kept from being moved to disk.
    pub memory_locked: bool,
    /// By how much the system may delay the thread's timers to save power, in nanoseconds, where that was set. It is
    /// without effect where the thread has real-time priority.
    pub timer_slack_ns: Option<u64>,
    /// The grain of the system's timers in milliseconds, where that was set.
    pub timer_period_ms: Option<u32>,
}

impl Granted {
    /// What a thread has that asked for nothing.
    pub const NOTHING: Granted = Granted {
        policy: Policy::Ordinary,
        priority: None,
        nice: None,
        slice_ns: None,
        memory_locked: false,
        timer_slack_ns: None,
        timer_period_ms: None,
    };

    /// Whether the thread runs before ordinary ones.
    pub fn is_real_time(&self) -> bool {
        self.policy != Policy::Ordinary
    }

    /// A sentence for the listener where the thread has to take its turn, with what can be done; `None` where all is well.
    pub fn notice(&self) -> Option<String> {
        if self.is_real_time() {
            return None;
        }
        let help = if cfg!(target_os = "linux") {
            "; a limit `rtprio 70` for this user (see limits.conf) allows it"
        } else {
            ""
        };
        Some(format!(
            "no real-time priority was given, so notes may come late while the machine is busy{help}"
        ))
    }
}

impl fmt::Display for Granted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.policy, self.priority) {
            (Policy::Fifo, Some(priority)) => write!(f, "real-time priority {priority}")?,
            (Policy::Ordinary, _) => write!(f, "ordinary priority")?,
            _ => write!(f, "real-time priority")?,
        }
        if let Some(nice) = self.nice.filter(|nice| *nice != 0) {
            write!(f, ", niceness {nice}")?;
        }
        if let Some(ns) = self.slice_ns {
            write!(f, ", slices of {} us", ns / 1000)?;
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

/// Asks the system for everything that lets the calling thread wake in time, and tells what it gave.
///
/// - Linux: `SCHED_FIFO` at priority 70 or what the limits allow below it, not handed on to threads it starts. Refused
///   that: slices of 0.1 ms (heeded from Linux 6.12 on) and a niceness of -11 or what is allowed above it. Timers to the
///   nanosecond. Memory is locked, now and later, only where no limit binds this process: under a limit, locking what
///   comes later would make later allocations fail, and locking what is there would end the program when a stack grows.
/// - macOS: the policy of time constraints, 0.5 ms within each millisecond it asks for.
/// - Windows: timers each millisecond until the program ends, and the time-critical priority.
/// - Elsewhere: nothing.
///
/// A refusal is no error; see [`Granted::notice`].
///
/// # Real time
/// Makes system calls and may take milliseconds while memory is locked: call it on the thread that keeps time, before
/// the first deadline. That thread must wait or sleep often: Linux stops real-time threads that take more than 950 ms of
/// a second, so spinning goes in pieces below a millisecond.
pub fn prepare_timing_thread() -> Granted {
    system::prepare()
}

/// Asks the system to run the calling thread, which makes sound for a device, before ordinary ones, and tells what it gave.
/// macOS and Windows do so by themselves. A refusal is no error.
///
/// # Real time
/// Makes a few system calls and takes microseconds.
pub fn raise_audio_thread() -> Granted {
    #[cfg(target_os = "linux")]
    return system::raise_thread(Granted::NOTHING);
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

    use super::{Granted, Policy};

    const PRIORITY: u8 = 70;
    const NICE: i8 = -11;
    const SLICE_NS: u64 = 100_000;
    const SLACK_NS: u64 = 1;

    #[cfg(target_env = "gnu")]
    type Resource = libc::__rlimit_resource_t;
    #[cfg(not(target_env = "gnu"))]
    type Resource = libc::c_int;

    pub(super) fn prepare() -> Granted {
        raise_thread(Granted {
            memory_locked: lock_memory(),
            timer_slack_ns: set_slack(),
            ..Granted::NOTHING
        })
    }

    pub(super) fn raise_thread(mut granted: Granted) -> Granted {
        raise(libc::RLIMIT_RTPRIO);
        granted.priority = (1..=PRIORITY).rev().find(|p| set_fifo(*p));
        if granted.priority.is_some() {
            granted.policy = Policy::Fifo;
            return granted;
        }
        raise(libc::RLIMIT_NICE);
        let now = attributes().map_or(0, |a| i8::try_from(a.sched_nice).unwrap_or(0));
        granted.nice = (NICE.min(now)..=now).find(|n| set_slice(*n));
        // An older system takes the wish and does nothing, so ask what became of it.
        granted.slice_ns = attributes()
            .map(|a| a.sched_runtime)
            .filter(|ns| *ns == SLICE_NS);
        granted
    }

    fn set_slack() -> Option<u64> {
        // SAFETY: this request reads numbers only and changes the calling thread alone.
        let answer =
            unsafe { libc::prctl(libc::PR_SET_TIMERSLACK, SLACK_NS as libc::c_ulong, 0, 0, 0) };
        (answer == 0).then_some(SLACK_NS)
    }

    fn lock_memory() -> bool {
        raise(libc::RLIMIT_MEMLOCK);
        let unbound = match limit(libc::RLIMIT_MEMLOCK) {
            None => false,
            Some(found) if found.rlim_cur == libc::RLIM_INFINITY => true,
            // Whoever may lock more than the limit is not bound by it, now or later.
            Some(found) => {
                mapped_bytes().is_some_and(|bytes| bytes > found.rlim_cur)
                    && lock(libc::MCL_CURRENT)
            }
        };
        unbound && lock(libc::MCL_CURRENT | libc::MCL_FUTURE)
    }

    fn lock(what: libc::c_int) -> bool {
        // SAFETY: takes flags and touches no memory of ours.
        unsafe { libc::mlockall(what) == 0 }
    }

    /// All the memory of this process, touched or not.
    fn mapped_bytes() -> Option<u64> {
        // SAFETY: takes a number and gives one.
        let page = unsafe { libc::sysconf(libc::_SC_PAGESIZE) };
        let text = std::fs::read_to_string("/proc/self/statm").ok()?;
        let pages: u64 = text.split(' ').next()?.parse().ok()?;
        pages.checked_mul(u64::try_from(page).ok()?)
    }

    fn limit(resource: Resource) -> Option<libc::rlimit> {
        let mut limit = libc::rlimit {
            rlim_cur: 0,
            rlim_max: 0,
        };
        // SAFETY: the pointer is to a whole `rlimit` of ours, which the call fills.
        let answer = unsafe { libc::getrlimit(resource, &raw mut limit) };
        (answer == 0).then_some(limit)
    }

    /// Lifts the limit in force to the highest that this process may set without asking.
    fn raise(resource: Resource) {
        let Some(mut limit) = limit(resource) else {
            return;
        };
        limit.rlim_cur = limit.rlim_max;
        // SAFETY: the pointer is to a whole `rlimit` that outlives the call, which only reads it.
        let _ = unsafe { libc::setrlimit(resource, &raw const limit) };
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

    /// Sets how the calling thread is scheduled.
    fn set(attributes: &libc::sched_attr) -> bool {
        let attributes: *const libc::sched_attr = attributes;
        // SAFETY: the arguments are those of sched_setattr(2): 0 for the calling thread, a whole structure with its size
        // in it that outlives the call and is only read, and no flags.
        unsafe { libc::syscall(libc::SYS_sched_setattr, 0, attributes, 0) == 0 }
    }

    /// How the calling thread is scheduled.
    fn attributes() -> Option<libc::sched_attr> {
        let mut found = ordinary();
        // SAFETY: the arguments are those of sched_getattr(2): 0 for the calling thread, a structure of ours to fill, its
        // size, and no flags.
        let answer = unsafe { libc::syscall(libc::SYS_sched_getattr, 0, &raw mut found, SIZE, 0) };
        (answer == 0).then_some(found)
    }

    pub(super) fn stolen_ns() -> Option<u64> {
        // SAFETY: takes a number and gives one.
        let ticks = unsafe { libc::sysconf(libc::_SC_CLK_TCK) };
        let text = std::fs::read_to_string("/proc/stat").ok()?;
        super::stolen_in(&text, u64::try_from(ticks).ok()?)
    }
}

#[cfg(target_os = "macos")]
#[allow(deprecated)] // another crate is named for these; it would be one more for four declarations
mod system {
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
        // SAFETY: `pthread_self` always gives the calling thread, whose port lives as long as it and is not to be freed.
        let thread = unsafe { libc::pthread_mach_thread_np(libc::pthread_self()) };
        // SAFETY: the pointer is to a whole structure of the kind and the count that the flavour names, which outlives
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
        // SAFETY: takes a number; the wish ends with the program.
        let finer = unsafe { time_begin_period(PERIOD_MS) } == 0;
        // SAFETY: takes nothing; what it gives stands for the calling thread wherever it is used, and is not to be closed.
        let thread = unsafe { get_current_thread() };
        // SAFETY: the handle is the calling thread's.
        let first = unsafe { set_thread_priority(thread, TIME_CRITICAL) } != 0;
        Granted {
            policy: if first {
                Policy::TimeCritical
            } else {
                Policy::Ordinary
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

    #[test]
    fn what_was_granted_in_words() {
        let fifo = Granted {
            policy: Policy::Fifo,
            priority: Some(70),
            memory_locked: true,
            timer_slack_ns: Some(1),
            ..Granted::NOTHING
        };
        assert_eq!(fifo.to_string(), "real-time priority 70, memory locked");
        assert_eq!(fifo.notice(), None);
        let turn = Granted {
            nice: Some(-11),
            slice_ns: Some(100_000),
            ..Granted::NOTHING
        };
        assert_eq!(
            turn.to_string(),
            "ordinary priority, niceness -11, slices of 100 us"
        );
        assert!(turn.notice().is_some());
        assert_eq!(
            serde_json::to_string(&fifo).unwrap(),
            r#"{"policy":"fifo","priority":70,"nice":null,"slice_ns":null,"memory_locked":true,"timer_slack_ns":1,"timer_period_ms":null}"#
        );
    }

    /// What is told must be what the system says of the thread, whatever that is here.
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
            // SAFETY: takes nothing and only lifts what `prepare_timing_thread` asked for.
            unsafe { libc::munlockall() };
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
        assert_eq!(field(40), i64::from(granted.priority.unwrap_or(0)));
        if let Some(nice) = granted.nice {
            assert_eq!(field(19), i64::from(nice));
        }
        assert!(granted.nice.is_none() || granted.policy == Policy::Ordinary);
        let locked = status.lines().find(|l| l.starts_with("VmLck:")).unwrap();
        assert_eq!(!locked.contains(" 0 kB"), granted.memory_locked, "{locked}");
        assert_eq!(granted.timer_slack_ns, Some(1));
    }
}
