//! The contract's service, each method in a file of its own.

use std::pin::Pin;

use baycast_service::Service;
use futures::Stream;
use tonic::{Request, Response, Status, Streaming};

use crate::proto::maturity_service_server::MaturityService;
use crate::proto::{
    EstimateMaturityRequest, EstimateMaturityResponse, GetFeedstockRequest, GetFeedstockResponse,
    ListFeedstocksRequest, ListFeedstocksResponse, StreamEstimatesRequest, StreamEstimatesResponse,
};
use crate::{caller, deadline, estimates, estimates_stream, feedstocks};

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
}
