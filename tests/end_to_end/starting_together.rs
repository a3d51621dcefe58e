//! Several servers started at the same moment on a store without a schema.

use axum::body::Body;

use crate::databases::Database;
use crate::http::{get, send};
use crate::server::Server;

/// Servers started together.
const SERVERS: usize = 4;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn on_sqlite_all_become_ready() {
    all_become_ready(&Database::sqlite()).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn on_postgres_all_become_ready() {
    all_become_ready(&Database::postgres().await).await;
}

async fn all_become_ready(database: &Database) {
    // Built before, so that the starts coincide.
    crate::binary::path();
    let servers: Vec<Server> = std::thread::scope(|scope| {
        let starts: Vec<_> = (0..SERVERS).map(|_| scope.spawn(|| Server::on(database))).collect();
        starts.into_iter().map(|start| start.join().expect("the server starts")).collect()
    });
    let farm = r#"{"id":"home","name":"","site":{"latitude_deg":52},"time_zone":"Etc/UTC"}"#;
    let headers = [("content-type", "application/json")];
    assert_eq!(send(&servers[0], "POST", "/v1/farms", &headers, Body::from(farm)).await.status, 201);
    for server in &servers {
        assert_eq!(get(server, "/readyz").await.status, 200);
        assert_eq!(get(server, "/v1/farms/home").await.status, 200);
    }
}
