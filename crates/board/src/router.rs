//! The board's routes, with what holds for each of them.

use axum::Router;
use axum::middleware::from_fn;
use axum::routing::{get, post};
use baycast_service::Service;
use tower_http::compression::CompressionLayer;

use crate::kept::Kept;
use crate::{assets, batch, changes, farms, headers, note, plan, sign_in, yard};

/// What every page needs.
#[derive(Clone)]
pub struct Board {
    /// The operations.
    pub service: Service,
    /// Pages that are written already.
    pub kept: Kept,
}

/// The board's side of the port.
pub fn router(service: Service) -> Router {
    let board = Board { service, kept: Kept::default() };
    Router::new()
        .route("/board", get(farms::farms))
        .route("/board/sign-in", post(sign_in::sign_in))
        .route("/board/sign-out", post(sign_in::sign_out))
        .route("/board/worker.js", get(assets::worker))
        .route("/board/assets/{name}", get(assets::asset))
        .route("/board/{farm}", get(yard::yard))
        .route("/board/{farm}/plan", get(plan::plan))
        .route("/board/{farm}/changes", get(changes::changes))
        .route("/board/{farm}/batches/{batch}", get(batch::batch).post(note::note))
        .route("/feeds/{token}/board", get(yard::yard))
        .route("/feeds/{token}/board/plan", get(plan::plan))
        .route("/feeds/{token}/board/changes", get(changes::changes))
        .route("/feeds/{token}/board/batches/{batch}", get(batch::batch))
        .with_state(board)
        .layer(CompressionLayer::new())
        .layer(from_fn(headers::guard))
}
