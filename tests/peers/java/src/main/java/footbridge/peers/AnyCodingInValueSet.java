package footbridge.peers;

import ca.uhn.fhir.context.support.IValidationSupport;
import org.hl7.fhir.common.hapi.validation.validator.WorkerContextValidationSupportAdapter;
import org.hl7.fhir.r5.model.CodeableConcept;
import org.hl7.fhir.r5.model.Coding;
import org.hl7.fhir.r5.model.ValueSet;
import org.hl7.fhir.r5.terminologies.utilities.ValidationResult;
import org.hl7.fhir.utilities.validation.ValidationOptions;

/**
 * A binding of a CodeableConcept is met when one coding is in the value set, and every coding must be
 * right in its own code system. The library offers only all-in-the-set, or one-is-enough for both.
 */
final class AnyCodingInValueSet extends WorkerContextValidationSupportAdapter {

  AnyCodingInValueSet(IValidationSupport support) {
    super(support);
  }

  @Override
  public ValidationResult validateCode(ValidationOptions options, CodeableConcept concept, ValueSet valueSet) {
    ValidationResult all = super.validateCode(options, concept, valueSet);
    if (all.isOk() || valueSet == null) {
      return all;
    }
    if (!super.validateCode(options, concept, null).isOk()) {
      return all;
    }
    for (Coding coding : concept.getCoding()) {
      ValidationResult one = validateCode(options, coding, valueSet);
      if (one.isOk()) {
        return one;
      }
    }
    return all;
  }
}
