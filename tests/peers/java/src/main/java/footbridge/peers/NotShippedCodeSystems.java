package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.ConceptValidationOptions;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.context.support.LookupCodeRequest;
import ca.uhn.fhir.context.support.ValidationSupportContext;
import java.util.Set;

/**
 * Says of LOINC and SNOMED CT codes: not checkable here.
 * Neither code system may be shipped with a library, so without this every such code is an error
 * ("CodeSystem is unknown"). All other code systems keep their full check.
 */
final class NotShippedCodeSystems implements IValidationSupport {

  static final Set<String> SYSTEMS = Set.of("http://loinc.org", "http://snomed.info/sct");

  private final FhirContext context;

  NotShippedCodeSystems(FhirContext context) {
    this.context = context;
  }

  @Override
  public FhirContext getFhirContext() {
    return context;
  }

  @Override
  public String getName() {
    return "LOINC and SNOMED CT, not shipped";
  }

  @Override
  public boolean isCodeSystemSupported(ValidationSupportContext support, String system) {
    return SYSTEMS.contains(system);
  }

  @Override
  public CodeValidationResult validateCode(
      ValidationSupportContext support,
      ConceptValidationOptions options,
      String system,
      String code,
      String display,
      String valueSetUrl) {
    boolean mine = SYSTEMS.contains(system) && (valueSetUrl == null || valueSetUrl.isBlank());
    return mine ? new CodeValidationResult().setCode(code).setDisplay(display) : null;
  }

  @Override
  public LookupCodeResult lookupCode(ValidationSupportContext support, LookupCodeRequest request) {
    if (!SYSTEMS.contains(request.getSystem())) {
      return null;
    }
    return new LookupCodeResult()
        .setFound(true)
        .setSearchedForSystem(request.getSystem())
        .setSearchedForCode(request.getCode());
  }
}
