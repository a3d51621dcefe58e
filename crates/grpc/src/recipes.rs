//! `SuggestRecipe` and `SuggestFarmRecipe`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    SuggestFarmRecipeRequest, SuggestFarmRecipeResponse, SuggestRecipeRequest, SuggestRecipeResponse,
};

/// The mix of what is on hand that comes closest to its targets.
pub async fn suggest_recipe(
    service: &Service,
    request: SuggestRecipeRequest,
) -> Result<SuggestRecipeResponse, Error> {
    let on_hand = convert::on_hand(request.on_hand)?;
    let recipe = service.recipe(on_hand).await?;
    Ok(SuggestRecipeResponse { recipe: Some(recipe.into()) })
}

/// The same on a farm.
pub async fn suggest_farm_recipe(
    service: &Service,
    caller: &Caller,
    request: SuggestFarmRecipeRequest,
) -> Result<SuggestFarmRecipeResponse, Error> {
    let SuggestFarmRecipeRequest { farm, on_hand } = request;
    let recipe = service.farm_recipe(caller, &farm, convert::on_hand(on_hand)?).await?;
    Ok(SuggestFarmRecipeResponse { recipe: Some(recipe.into()) })
}
