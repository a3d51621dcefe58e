//! The port itself: connections are taken, watched over and ended here, whatever is then asked on them.

mod certificate;
mod connection;
mod crowd;
mod exposure;
mod open_files;
mod pulse;
mod watched;

use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use tokio::net::{TcpListener, TcpSocket};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio_rustls::TlsAcceptor;

pub use certificate::{Certificate, Files};
pub use connection::{Bounds, Peer};
pub use crowd::Crowd;
pub use exposure::Exposure;

/// Connections that wait to be taken.
const BACKLOG: u32 = 4096;

/// How long nothing is taken after the machine would give no connection.
const BREATH: Duration = Duration::from_millis(50);

/// How often room is looked for while there is none.
const LOOK: Duration = Duration::from_millis(100);

/// A place where connections come in.
pub struct Port {
    listener: TcpListener,
    tls: Option<TlsAcceptor>,
    bounds: Bounds,
    crowd: Arc<Crowd>,
}

impl Port {
    /// Binds an address; over TLS where there is a certificate. Takes fewer connections than are asked for where the machine
    /// lets fewer files be open.
    pub fn bind(
        address: SocketAddr,
        certificate: Option<&Arc<Certificate>>,
        mut bounds: Bounds,
    ) -> io::Result<Self> {
        let (asked, room) = (bounds.connections, open_files::room(bounds.connections));
        if room < asked {
            tracing::warn!(room, asked, "the machine's limit of open files allows fewer connections");
            bounds.connections = room;
        }
        let socket = if address.is_ipv4() { TcpSocket::new_v4()? } else { TcpSocket::new_v6()? };
        socket.set_reuseaddr(true)?;
        socket.bind(address)?;
        let tls = certificate.map(|certificate| TlsAcceptor::from(certificate.server()));
        Ok(Self { listener: socket.listen(BACKLOG)?, tls, bounds, crowd: Arc::default() })
    }

    /// Where it can be reached, as a URL.
    pub fn url(&self) -> io::Result<String> {
        let scheme = if self.tls.is_some() { "https" } else { "http" };
        Ok(format!("{scheme}://{}", self.listener.local_addr()?))
    }

    /// Those whose connections are open.
    pub fn crowd(&self) -> Arc<Crowd> {
        self.crowd.clone()
    }

    /// Answers what is asked with `app` until told to stop, then finishes what is under way.
    ///
    /// Where there is no room for one more connection, those on which nothing has been asked for longest are ended, so that
    /// nobody keeps others out by holding connections.
    pub async fn serve(self, app: Router, stopped: watch::Receiver<bool>) {
        let Self { listener, tls, bounds, crowd } = self;
        let room = Arc::new(Semaphore::new(bounds.connections));
        let server = Arc::new(connection::Server::new(app, tls, bounds));
        let mut told = stopped.clone();
        let taking = async {
            loop {
                let place = a_place(&room, &crowd).await;
                match listener.accept().await {
                    Ok((stream, peer)) => {
                        let (server, member) = (server.clone(), crowd.enter());
                        let stopped = stopped.clone();
                        tokio::spawn(async move {
                            server.attend(stream, peer.ip(), member.pulse(), stopped).await;
                            drop((member, place));
                        });
                    }
                    Err(error) if is_of_one_connection(&error) => {}
                    Err(error) => {
                        tracing::warn!(%error, "no connection could be taken");
                        crowd.make_room();
                        tokio::time::sleep(BREATH).await;
                    }
                }
            }
        };
        tokio::select! {
            () = taking => {}
            _ = told.wait_for(|stopped| *stopped) => {}
        }
        drop(listener);
        let all = u32::try_from(bounds.connections).unwrap_or(u32::MAX);
        let _ = room.acquire_many(all).await;
    }
}

/// A place for one more connection, for which others make room where they must.
async fn a_place(room: &Arc<Semaphore>, crowd: &Crowd) -> OwnedSemaphorePermit {
    loop {
        if let Ok(place) = room.clone().try_acquire_owned() {
            return place;
        }
        crowd.make_room();
        if let Ok(Ok(place)) = tokio::time::timeout(LOOK, room.clone().acquire_owned()).await {
            return place;
        }
    }
}

/// Whether the connection that was to be taken is at fault, and not the machine.
fn is_of_one_connection(error: &io::Error) -> bool {
    use io::ErrorKind::{ConnectionAborted, ConnectionRefused, ConnectionReset};
    matches!(error.kind(), ConnectionAborted | ConnectionRefused | ConnectionReset)
}
