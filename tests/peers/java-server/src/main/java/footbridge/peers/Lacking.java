package footbridge.peers;

import ca.uhn.fhir.interceptor.api.Hook;
import ca.uhn.fhir.interceptor.api.Interceptor;
import ca.uhn.fhir.interceptor.api.Pointcut;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings.ClientIdStrategyEnum;
import ca.uhn.fhir.rest.api.RestOperationTypeEnum;
import ca.uhn.fhir.rest.api.server.RequestDetails;
import ca.uhn.fhir.rest.server.exceptions.InvalidRequestException;
import java.util.Set;
import org.hl7.fhir.instance.model.api.IBaseConformance;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.CapabilityStatement;
import org.hl7.fhir.r4.model.CapabilityStatement.CapabilityStatementRestResourceComponent;

/** Takes abilities away from the server: it refuses them, and its statement does not list them. */
@Interceptor
public final class Lacking {
    private final JpaStorageSettings settings;
    private volatile Set<String> lacks = Set.of();

    Lacking(JpaStorageSettings settings) {
        this.settings = settings;
    }

    void lack(Set<String> abilities) {
        lacks = abilities;
        settings.setResourceClientIdStrategy(abilities.contains("updateCreate") ? ClientIdStrategyEnum.NOT_ALLOWED
            : ClientIdStrategyEnum.ALPHANUMERIC);
    }

    @Hook(Pointcut.SERVER_INCOMING_REQUEST_PRE_HANDLED)
    public void refuse(RequestDetails request, RestOperationTypeEnum operation) {
        if (request.getHeader("If-None-Exist") != null) {
            refuseIfLacking("conditionalCreate");
        }
        if (operation == RestOperationTypeEnum.UPDATE && request.getConditionalUrl(operation) != null) {
            refuseIfLacking("conditionalUpdate");
        }
        if (operation == RestOperationTypeEnum.TRANSACTION && request.getResource() instanceof Bundle bundle) {
            refuseIfLacking(bundle.getType().toCode());
            bundle.getEntry().forEach(entry -> refuseEntry(entry.getRequest()));
        }
    }

    private void refuseEntry(Bundle.BundleEntryRequestComponent request) {
        if (request.hasIfNoneExist()) {
            refuseIfLacking("conditionalCreate");
        }
        if (request.getMethod() == Bundle.HTTPVerb.PUT && request.getUrl().contains("?")) {
            refuseIfLacking("conditionalUpdate");
        }
    }

    private void refuseIfLacking(String ability) {
        if (lacks.contains(ability)) {
            throw new InvalidRequestException(ability + " is not supported");
        }
    }

    @Hook(Pointcut.SERVER_CAPABILITY_STATEMENT_GENERATED)
    public void tell(IBaseConformance statement) {
        for (CapabilityStatement.CapabilityStatementRestComponent rest : ((CapabilityStatement) statement).getRest()) {
            rest.getInteraction().removeIf(each -> each.getCode() != null && lacks.contains(each.getCode().toCode()));
            rest.getResource().forEach(this::tell);
        }
    }

    private void tell(CapabilityStatementRestResourceComponent type) {
        if (lacks.contains("conditionalCreate")) {
            type.setConditionalCreate(false);
        }
        if (lacks.contains("conditionalUpdate")) {
            type.setConditionalUpdate(false);
        }
        if (lacks.contains("updateCreate")) {
            type.setUpdateCreate(false);
        }
    }
}
