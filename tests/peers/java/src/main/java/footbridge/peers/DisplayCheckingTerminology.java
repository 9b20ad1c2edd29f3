package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.ConceptValidationOptions;
import ca.uhn.fhir.context.support.ValidationSupportContext;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.instance.model.api.IBaseResource;

/** The library never asks for displays to be checked; the official command line does, as errors. */
final class DisplayCheckingTerminology extends InMemoryTerminologyServerValidationSupport {

  DisplayCheckingTerminology(FhirContext context) {
    super(context);
    setIssueSeverityForCodeDisplayMismatch(IssueSeverity.ERROR);
  }

  @Override
  public CodeValidationResult validateCode(
      ValidationSupportContext support,
      ConceptValidationOptions options,
      String system,
      String code,
      String display,
      String valueSetUrl) {
    return super.validateCode(support, withDisplay(options), system, code, display, valueSetUrl);
  }

  @Override
  public CodeValidationResult validateCodeInValueSet(
      ValidationSupportContext support,
      ConceptValidationOptions options,
      String system,
      String code,
      String display,
      IBaseResource valueSet) {
    return super.validateCodeInValueSet(support, withDisplay(options), system, code, display, valueSet);
  }

  private static ConceptValidationOptions withDisplay(ConceptValidationOptions options) {
    return new ConceptValidationOptions()
        .setInferSystem(options.isInferSystem())
        .setValidateDisplay(true);
  }
}
