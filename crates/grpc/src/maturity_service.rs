//! The contract's service, each method in a file of its own.

use std::pin::Pin;

use baycast_service::Service;
use futures::Stream;
use tonic::{Request, Response, Status, Streaming};

use crate::proto::maturity_service_server::MaturityService;
use crate::proto::{
    EstimateMaturityRequest, EstimateMaturityResponse, GetFeedstockRequest, GetFeedstockResponse,
    GetReadinessRequest, GetReadinessResponse, ListFeedstocksRequest, ListFeedstocksResponse,
    ListReadinessChangesRequest, ListReadinessChangesResponse, StreamEstimatesRequest,
    StreamEstimatesResponse, WatchReadinessRequest, WatchReadinessResponse,
};
use crate::{
    caller, deadline, estimates, estimates_stream, feedstocks, readiness, readiness_changes, readiness_watch,
    status,
};

/// The service behind the contract.
pub struct Maturity(Service);

impl Maturity {
    /// Answers with `service`.
    pub fn new(service: Service) -> Self {
        Self(service)
    }
}

#[tonic::async_trait]
impl MaturityService for Maturity {
    async fn estimate_maturity(
        &self,
        request: Request<EstimateMaturityRequest>,
    ) -> Result<Response<EstimateMaturityResponse>, Status> {
        let deadline = deadline::of(request.metadata())?;
        caller::admit(&self.0, request.metadata()).await?;
        deadline.keep(estimates::estimate_maturity(&self.0, request.into_inner())).await.map(Response::new)
    }

    type StreamEstimatesStream = Pin<Box<dyn Stream<Item = Result<StreamEstimatesResponse, Status>> + Send>>;

    async fn stream_estimates(
        &self,
        request: Request<Streaming<StreamEstimatesRequest>>,
    ) -> Result<Response<Self::StreamEstimatesStream>, Status> {
        let deadline = deadline::of(request.metadata())?;
        caller::admit(&self.0, request.metadata()).await?;
        let answers = estimates_stream::stream_estimates(&self.0, request.into_inner())?;
        Ok(Response::new(Box::pin(deadline.cut(answers))))
    }

    async fn list_feedstocks(
        &self,
        request: Request<ListFeedstocksRequest>,
    ) -> Result<Response<ListFeedstocksResponse>, Status> {
        caller::admit(&self.0, request.metadata()).await?;
        feedstocks::list_feedstocks(&self.0, &request.into_inner()).map(Response::new)
    }

    async fn get_feedstock(
        &self,
        request: Request<GetFeedstockRequest>,
    ) -> Result<Response<GetFeedstockResponse>, Status> {
        caller::admit(&self.0, request.metadata()).await?;
        feedstocks::get_feedstock(&self.0, &request.into_inner()).map(Response::new)
    }

    async fn get_readiness(
        &self,
        request: Request<GetReadinessRequest>,
    ) -> Result<Response<GetReadinessResponse>, Status> {
        let deadline = deadline::of(request.metadata())?;
        let work = async {
            let caller = caller::of(&self.0, request.metadata()).await?;
            readiness::get_readiness(&self.0, &caller, request.into_inner()).await
        };
        let answered = async { work.await.map_err(|error| status::of(&error)) };
        deadline.keep(answered).await.map(Response::new)
    }

    async fn list_readiness_changes(
        &self,
        request: Request<ListReadinessChangesRequest>,
    ) -> Result<Response<ListReadinessChangesResponse>, Status> {
        let deadline = deadline::of(request.metadata())?;
        let work = async {
            let caller = caller::of(&self.0, request.metadata()).await?;
            readiness_changes::list_readiness_changes(&self.0, &caller, request.into_inner()).await
        };
        let answered = async { work.await.map_err(|error| status::of(&error)) };
        deadline.keep(answered).await.map(Response::new)
    }

    type WatchReadinessStream = Pin<Box<dyn Stream<Item = Result<WatchReadinessResponse, Status>> + Send>>;

    async fn watch_readiness(
        &self,
        request: Request<WatchReadinessRequest>,
    ) -> Result<Response<Self::WatchReadinessStream>, Status> {
        let deadline = deadline::of(request.metadata())?;
        let work = async {
            let caller = caller::of(&self.0, request.metadata()).await?;
            readiness_watch::watch_readiness(&self.0, &caller, request.into_inner()).await
        };
        let answered = async { work.await.map_err(|error| status::of(&error)) };
        let news = deadline.keep(answered).await?;
        Ok(Response::new(Box::pin(deadline.cut(news))))
    }
}
