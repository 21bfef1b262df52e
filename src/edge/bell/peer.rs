//! The other computer a ring is sent to: where it is, whether it is in the shop's network, and the
//! secret it wants to hear.

use std::fmt;
use std::io::{self, Read};
use std::net::IpAddr;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

use super::WayError;
use crate::edge::plain_file;
use crate::edge::whole_file::own;

/// Endings of names that lead nowhere but into the own network (RFC 6762, RFC 8375; `.lan` is common
/// practice, no source).
const NEAR: [&str; 4] = [".local", ".home.arpa", ".internal", ".lan"];
/// A longer secret is none, bytes (a guess).
const LONGEST_SECRET: u64 = 4096;

/// A computer by its name or address, and a port where one is said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Peer {
    pub host: String,
    pub port: Option<u16>,
}

impl Peer {
    /// From `mail.example.org`, `192.168.1.5:1883` or `[fe80::1]:1883`.
    ///
    /// # Errors
    /// What is wrong with it; `what` is its key in the settings.
    pub fn named(text: &str, what: &str) -> Result<Peer, String> {
        let (host, port) = match text.rsplit_once(':') {
            Some((host, port)) if !host.contains(':') || host.ends_with(']') => (host, Some(port)),
            _ => (text, None),
        };
        let port = port.map(str::parse::<u16>).transpose();
        let bare = host.trim_start_matches('[').trim_end_matches(']');
        let named = !bare.is_empty()
            && bare.chars().all(|c| c.is_ascii_alphanumeric() || "-._:".contains(c));
        match port {
            Ok(port) if named && port != Some(0) => Ok(Peer { host: bare.to_owned(), port }),
            _ => Err(format!(
                "{what} is \"{text}\": write the name or address of a computer, and its port behind a colon if it is another than usual"
            )),
        }
    }

    /// Whether it is this very computer.
    pub fn is_here(&self) -> bool {
        self.host == "localhost" || self.host.parse().is_ok_and(|ip: IpAddr| ip.is_loopback())
    }

    /// Whether it is in the shop's network: nobody beyond that can listen.
    pub fn is_near(&self) -> bool {
        match self.host.parse() {
            Ok(IpAddr::V4(ip)) => ip.is_private() || ip.is_loopback() || ip.is_link_local(),
            Ok(IpAddr::V6(ip)) => {
                ip.is_loopback() || ip.is_unique_local() || ip.is_unicast_link_local()
            }
            Err(_) => {
                !self.host.contains('.') || NEAR.iter().any(|ending| self.host.ends_with(ending))
            }
        }
    }
}

/// Whether whoever signs in so, if anybody, has a file for the secret, named by its whole path.
///
/// # Errors
/// What is wrong with it.
pub fn check_login(user: &str, file: &str) -> Result<(), String> {
    if user.is_empty() != file.is_empty() {
        return Err("\"secret_file\" goes together with the \"user\", or the {secret} in a header, it is for".into());
    }
    if file.is_empty() || Path::new(file).is_absolute() {
        return Ok(());
    }
    Err(format!("\"secret_file\" is \"{file}\": write its whole path, from / on"))
}

/// The secret in a file that its owner alone can read; empty where no file is named.
///
/// # Errors
/// [`WayError`], which names the file and never says what is in it.
pub fn secret(file: &str) -> Result<String, WayError> {
    if file.is_empty() {
        return Ok(String::new());
    }
    let failed =
        |reason: &dyn fmt::Display| WayError::failed(format!("the secret in {file}"), reason);
    let unread = |error: io::Error| failed(&error);
    let opened = plain_file::open(Path::new(file), own().read(true)).map_err(unread)?;
    let mode = opened.metadata().map_err(unread)?.permissions().mode();
    if mode & 0o077 != 0 {
        return Err(failed(&format!("others can read it too: run chmod 600 {file}")));
    }
    let mut text = String::new();
    opened.take(LONGEST_SECRET).read_to_string(&mut text).map_err(unread)?;
    let secret = text.trim();
    if secret.is_empty() || secret.chars().any(char::is_control) {
        return Err(failed(&"it has to be one line of text"));
    }
    Ok(secret.to_owned())
}
