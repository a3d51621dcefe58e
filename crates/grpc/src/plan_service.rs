//! The contract's service for plans, each method in the file of what it answers.

use baycast_service::{Error, Service};
use tonic::metadata::MetadataMap;
use tonic::{Request, Response, Status};

use crate::proto::plan_service_server::PlanService;
use crate::{caller, deadline, plans, proto, recipes, requirements, season, status};

/// The service behind the contract.
pub struct Plans(Service);

impl Plans {
    /// Answers with `service`.
    pub fn new(service: Service) -> Self {
        Self(service)
    }
}

/// What `work` answers within the caller's deadline.
async fn answered<T>(
    metadata: &MetadataMap,
    work: impl Future<Output = Result<T, Error>>,
) -> Result<Response<T>, Status> {
    let deadline = deadline::of(metadata)?;
    let answered = async { work.await.map_err(|error| status::of(&error)) };
    deadline.keep(answered).await.map(Response::new)
}

#[tonic::async_trait]
impl PlanService for Plans {
    async fn suggest_recipe(
        &self,
        request: Request<proto::SuggestRecipeRequest>,
    ) -> Result<Response<proto::SuggestRecipeResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        caller::admit(&self.0, &metadata).await?;
        answered(&metadata, recipes::suggest_recipe(&self.0, asked)).await
    }

    async fn suggest_farm_recipe(
        &self,
        request: Request<proto::SuggestFarmRecipeRequest>,
    ) -> Result<Response<proto::SuggestFarmRecipeResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            recipes::suggest_farm_recipe(&self.0, &caller, asked).await
        };
        answered(&metadata, work).await
    }

    async fn find_requirement(
        &self,
        request: Request<proto::FindRequirementRequest>,
    ) -> Result<Response<proto::FindRequirementResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        caller::admit(&self.0, &metadata).await?;
        answered(&metadata, Box::pin(requirements::find_requirement(&self.0, asked))).await
    }

    async fn find_farm_requirement(
        &self,
        request: Request<proto::FindFarmRequirementRequest>,
    ) -> Result<Response<proto::FindFarmRequirementResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            requirements::find_farm_requirement(&self.0, &caller, asked).await
        };
        answered(&metadata, Box::pin(work)).await
    }

    async fn plan_season(
        &self,
        request: Request<proto::PlanSeasonRequest>,
    ) -> Result<Response<proto::PlanSeasonResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        caller::admit(&self.0, &metadata).await?;
        answered(&metadata, Box::pin(plans::plan_season(&self.0, asked))).await
    }

    async fn plan_farm(
        &self,
        request: Request<proto::PlanFarmRequest>,
    ) -> Result<Response<proto::PlanFarmResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            plans::plan_farm(&self.0, &caller, asked).await
        };
        answered(&metadata, Box::pin(work)).await
    }

    async fn get_season(
        &self,
        request: Request<proto::GetSeasonRequest>,
    ) -> Result<Response<proto::GetSeasonResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            season::get_season(&self.0, &caller, asked).await
        };
        answered(&metadata, Box::pin(work)).await
    }

    async fn keep_season(
        &self,
        request: Request<proto::KeepSeasonRequest>,
    ) -> Result<Response<proto::KeepSeasonResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            season::keep_season(&self.0, &caller, asked).await
        };
        answered(&metadata, Box::pin(work)).await
    }

    async fn delete_season(
        &self,
        request: Request<proto::DeleteSeasonRequest>,
    ) -> Result<Response<proto::DeleteSeasonResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            season::delete_season(&self.0, &caller, asked).await
        };
        answered(&metadata, Box::pin(work)).await
    }

    async fn get_plan(
        &self,
        request: Request<proto::GetPlanRequest>,
    ) -> Result<Response<proto::GetPlanResponse>, Status> {
        let (metadata, _, asked) = request.into_parts();
        let work = async {
            let caller = caller::of(&self.0, &metadata).await?;
            season::get_plan(&self.0, &caller, asked).await
        };
        answered(&metadata, Box::pin(work)).await
    }
}
