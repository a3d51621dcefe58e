//! The gRPC side of the port: the services, their health and their description.

use std::future::ready;

use axum::Router;
use axum::extract::Request;
use axum::middleware::map_request;
use baycast_service::Service;
use tonic::service::Routes;
use tonic_health::server::HealthReporter;
use tonic_web::GrpcWebLayer;

use crate::arrival;
use crate::maturity_service::Maturity;
use crate::plan_service::Plans;
use crate::proto::DESCRIPTORS;
use crate::proto::maturity_service_server::MaturityServiceServer;
use crate::proto::plan_service_server::PlanServiceServer;
use crate::proto::records_service_server::RecordsServiceServer;
use crate::records_service::Records;

/// Every gRPC method, over HTTP/2 and as gRPC-Web, and the handle on what the health service says.
///
/// Reflection is served as v1 and as v1alpha, which many clients still ask for.
pub async fn router(service: Service) -> Result<(Router, HealthReporter), tonic_reflection::server::Error> {
    let (limit, time) = (service.limits().max_body_bytes, service.limits().timeout);
    let records = RecordsServiceServer::new(Records::new(service.clone())).max_decoding_message_size(limit);
    let plans = PlanServiceServer::new(Plans::new(service.clone())).max_decoding_message_size(limit);
    let maturity = MaturityServiceServer::new(Maturity::new(service)).max_decoding_message_size(limit);
    let (health, health_service) = tonic_health::server::health_reporter();
    health.set_serving::<MaturityServiceServer<Maturity>>().await;
    health.set_serving::<PlanServiceServer<Plans>>().await;
    health.set_serving::<RecordsServiceServer<Records>>().await;
    let reflection = || {
        tonic_reflection::server::Builder::configure()
            .register_encoded_file_descriptor_set(DESCRIPTORS)
            .register_encoded_file_descriptor_set(tonic_health::pb::FILE_DESCRIPTOR_SET)
    };
    let routes = Routes::new(maturity)
        .add_service(records)
        .add_service(plans)
        .add_service(health_service)
        .add_service(reflection().build_v1()?)
        .add_service(reflection().build_v1alpha()?);
    let timely = map_request(move |request: Request| ready(arrival::timely(request, time)));
    Ok((routes.into_axum_router().layer(timely).layer(GrpcWebLayer::new()), health))
}
