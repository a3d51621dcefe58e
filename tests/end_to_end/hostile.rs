//! Clients that are slow, greedy or mean harm: each is held within bounds, and others are served within a second meanwhile.

mod crowd;
mod frames;
mod large;
mod slow;
mod streams;

use std::time::Duration;

use baycast_grpc::proto::GetFeedstockRequest;
use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::time::error::Elapsed;
use tokio::time::timeout;
use tonic::transport::Channel;

use crate::http::get;
use crate::server::Server;

/// How soon others are served.
const SOON: Duration = Duration::from_secs(1);

/// How often it is tried: the machine itself, busy with other tests, may be what is slow for once.
const TRIES: usize = 3;

/// A row over REST and over gRPC, each on a connection of its own and within a second.
async fn others_are_served(server: &Server) {
    for _ in 1..TRIES {
        if served_soon(server).await.is_ok() {
            return;
        }
    }
    served_soon(server).await.expect("others are served within a second");
}

/// Whether REST and gRPC were served, each within a second.
async fn served_soon(server: &Server) -> Result<(), Elapsed> {
    let row = timeout(SOON, get(server, "/v1/feedstocks/grass_mowings")).await?;
    assert_eq!(row.status, 200);
    let call = async {
        let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
        let mut client = MaturityServiceClient::new(endpoint.connect().await.expect("a connection"));
        client.get_feedstock(GetFeedstockRequest { feedstock: "grass_mowings".to_owned() }).await
    };
    timeout(SOON, call).await?.expect("a row");
    Ok(())
}

/// A connection on which this was sent.
async fn having_sent(server: &Server, bytes: impl AsRef<[u8]>) -> TcpStream {
    let mut stream = TcpStream::connect(&server.address).await.expect("a connection");
    stream.write_all(bytes.as_ref()).await.expect("it is taken");
    stream
}

/// What the server still says until it ends the connection, which it must within so many seconds.
async fn last_words(stream: &mut TcpStream, seconds: u64) -> String {
    let mut words = Vec::new();
    let read = timeout(Duration::from_secs(seconds), stream.read_to_end(&mut words)).await;
    // A reset is an end as well.
    let _ = read.unwrap_or_else(|_| panic!("still open, after {:?}", String::from_utf8_lossy(&words)));
    String::from_utf8_lossy(&words).into_owned()
}
