//! Telling the service manager that the watch goes on: one datagram to the socket it names in
//! `NOTIFY_SOCKET`. One that hears nothing for as long as its unit says starts the keeper anew.

/// Tells the service manager this, if one listens. Whether it hears is its own affair.
pub(super) fn tell(what: &str) {
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::net::{SocketAddr, UnixDatagram};

    let Some(name) = std::env::var_os("NOTIFY_SOCKET") else { return };
    let address = match name.as_bytes() {
        // A name of the kernel's own, which is no file.
        #[cfg(target_os = "linux")]
        [b'@', name @ ..] => {
            <SocketAddr as std::os::linux::net::SocketAddrExt>::from_abstract_name(name)
        }
        _ => SocketAddr::from_pathname(&name),
    };
    let sent = address.and_then(|address| {
        let socket = UnixDatagram::unbound()?;
        // A manager that is stuck itself must not hold up the watch.
        socket.set_nonblocking(true)?;
        socket.send_to_addr(what.as_bytes(), &address)
    });
    drop(sent);
}
