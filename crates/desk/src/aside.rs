//! Work beside the window gives way to it: what the printer's hand does is followed first.

use thread_priority::{ThreadPriority, ThreadPriorityValue};

/// Of 99; a thread of its own accord has 50. On Linux this is a niceness of about 10.
const PRIORITY: u8 = 25;

/// Lets this thread work only as far as the window leaves time.
pub(crate) fn step_aside() {
    if let Ok(value) = ThreadPriorityValue::try_from(PRIORITY) {
        // Where the system refuses, work goes on as before.
        let _ = ThreadPriority::Crossplatform(value).set_for_current();
    }
}

/// The same for the threads among which work is shared, before the first of them starts.
pub(crate) fn share_aside() {
    // A pool there is already stays as it is.
    let _ = rayon::ThreadPoolBuilder::new().start_handler(|_| step_aside()).build_global();
}
