//! Under which addresses this computer can be reached in the shop's network.

use std::net::{IpAddr, Ipv4Addr, UdpSocket};

use if_addrs::IfAddr;

/// Names of interfaces that lead to no device of the shop: containers, bridges, tunnels.
const ELSEWHERE: [&str; 11] =
    ["br-", "docker", "p2p", "tailscale", "tun", "vboxnet", "veth", "virbr", "vmnet", "wg", "zt"];

/// One address of this computer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Address {
    pub ip: IpAddr,
    /// The interface it belongs to.
    pub by: String,
}

/// All addresses of this computer, also those no device of the shop can reach.
pub fn all() -> Vec<Address> {
    let found = if_addrs::get_if_addrs().unwrap_or_default();
    found.into_iter().map(|one| Address { ip: one.ip(), by: one.name }).collect()
}

/// Those a device of the shop may reach, the likeliest first.
pub fn reachable() -> Vec<Address> {
    let leads_out = source();
    let found = if_addrs::get_if_addrs().unwrap_or_default();
    let mut likely: Vec<Address> = found
        .into_iter()
        .filter(|one| !ELSEWHERE.iter().any(|name| one.name.starts_with(name)))
        .filter(|one| match &one.addr {
            IfAddr::V4(v4) => !v4.ip.is_loopback() && !v4.ip.is_link_local(),
            // A browser takes no address that holds in one cable only.
            IfAddr::V6(v6) => !v6.ip.is_loopback() && !v6.ip.is_unicast_link_local(),
        })
        .map(|one| Address { ip: one.ip(), by: one.name })
        .collect();
    likely.sort_by_key(|one| (Some(one.ip) != leads_out, one.ip.is_ipv6(), one.ip));
    likely
}

/// The address from which this computer would reach others. Nothing is sent; the address asked for is one
/// that is kept for documents (RFC 5737).
fn source() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    Some(socket.local_addr().ok()?.ip())
}

/// The name of this computer, as others in the network may call it.
pub fn host_name() -> Option<String> {
    let name = rustix::system::uname().nodename().to_string_lossy().to_lowercase();
    let first = name.split('.').next().unwrap_or_default().to_owned();
    let is_plain = first.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-');
    (!first.is_empty() && is_plain).then_some(first)
}

/// The page at this address.
pub fn url(ip: IpAddr, port: u16) -> String {
    match ip {
        IpAddr::V4(v4) => format!("http://{v4}:{port}"),
        IpAddr::V6(v6) => format!("http://[{v6}]:{port}"),
    }
}
