//! The server: connections, and how many of them.
//!
//! It has a thread and a small runtime of its own. Whoever connects and says nothing is sent away before the
//! files that journal and bell need could run short.

use std::collections::HashMap;
use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, TcpListener};
use std::sync::Arc;
use std::thread;
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::runtime::Builder;
use tokio::sync::{Semaphore, watch};

/// How many connections at once, and from one address.
const CONNECTIONS: usize = 128;
const FROM_ONE: usize = 16;
/// How long a request's head may take.
const HEAD_WITHIN: Duration = Duration::from_secs(10);
/// How long streams are given to say that they end.
const FAREWELL: Duration = Duration::from_millis(500);
/// The pause after a connection that could not be taken, as when there are no files left.
const PAUSE: Duration = Duration::from_millis(200);

/// A server that runs until it is dropped.
#[derive(Debug)]
pub struct Server {
    stop: watch::Sender<bool>,
}

/// Takes the port, for both kinds of addresses where there are both.
///
/// # Errors
/// When another has it, or it may not be taken.
pub fn bind(port: u16) -> io::Result<TcpListener> {
    TcpListener::bind((Ipv6Addr::UNSPECIFIED, port)).or_else(|error| match error.kind() {
        io::ErrorKind::AddrInUse | io::ErrorKind::PermissionDenied => Err(error),
        _ => TcpListener::bind((Ipv4Addr::UNSPECIFIED, port)),
    })
}

impl Server {
    /// Serves what `router` makes; it is told when everything has to end.
    ///
    /// # Errors
    /// When the system has no thread to give, or cannot wait for connections.
    pub fn start(
        listener: TcpListener,
        router: impl FnOnce(watch::Receiver<bool>) -> Router,
    ) -> io::Result<Server> {
        let (stop, stopped) = watch::channel(false);
        let router = router(stopped.clone());
        listener.set_nonblocking(true)?;
        let runtime = Builder::new_current_thread().enable_io().enable_time().build()?;
        thread::Builder::new().name("page server".into()).spawn(move || {
            runtime.block_on(async {
                // A listener that cannot be waited for is as good as none.
                let Ok(listener) = tokio::net::TcpListener::from_std(listener) else { return };
                accept(listener, router, stopped).await;
                tokio::time::sleep(FAREWELL).await;
            });
            runtime.shutdown_background();
        })?;
        Ok(Server { stop })
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.stop.send_replace(true);
    }
}

async fn accept(
    listener: tokio::net::TcpListener,
    router: Router,
    mut stopped: watch::Receiver<bool>,
) {
    let all = Arc::new(Semaphore::new(CONNECTIONS));
    let mut each = HashMap::<IpAddr, Arc<Semaphore>>::new();
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            _ = stopped.wait_for(|stopped| *stopped) => return,
        };
        let Ok((stream, from)) = accepted else {
            tokio::time::sleep(PAUSE).await;
            continue;
        };
        // One that is over the number is let go of at once.
        let Ok(room) = Arc::clone(&all).try_acquire_owned() else { continue };
        each.retain(|_, left| left.available_permits() < FROM_ONE);
        let left = each.entry(from.ip().to_canonical());
        let left = left.or_insert_with(|| Arc::new(Semaphore::new(FROM_ONE)));
        let Ok(share) = Arc::clone(left).try_acquire_owned() else { continue };
        let service = TowerToHyperService::new(router.clone());
        let mut http = http1::Builder::new();
        http.timer(TokioTimer::new()).header_read_timeout(HEAD_WITHIN);
        let connection = http.serve_connection(TokioIo::new(stream), service);
        tokio::spawn(async move {
            // Whatever became of it, the device asks again.
            let _ = connection.await;
            drop((room, share));
        });
    }
}
