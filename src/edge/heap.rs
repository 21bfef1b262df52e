//! What a program that runs for months holds of the machine's memory.
//!
//! A forecast takes a few megabytes for a moment, three times a minute. The allocator of the GNU
//! C library keeps what was given back to it, and a share for each thread: without this, a screen
//! would hold several times of what it uses. Where there is another allocator, nothing is done.

/// What is at least so large goes back to the system at once, bytes. Unless it is told, the library
/// raises this to whatever was let go last.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
const LARGE: i32 = 128 * 1024;

/// Lets all threads of this process share one heap, without large pieces in it; for programs that
/// mostly wait. To be called before there are other threads.
pub fn share() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    {
        #[expect(unsafe_code, reason = "the C library has no other way to say it")]
        // SAFETY: it takes two numbers and sets a limit; it may be called at any time.
        unsafe {
            libc::mallopt(libc::M_ARENA_MAX, 1);
            libc::mallopt(libc::M_MMAP_THRESHOLD, LARGE);
        }
    }
}

/// Gives what is not in use back to the system; takes well under a millisecond.
pub fn give_back() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    {
        #[expect(unsafe_code, reason = "the C library has no other way to say it")]
        // SAFETY: it takes the locks of the heap itself and touches only memory that is free.
        unsafe {
            libc::malloc_trim(0);
        }
    }
}
