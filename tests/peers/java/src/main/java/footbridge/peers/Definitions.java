package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import java.util.HashMap;
import java.util.Map;
import org.hl7.fhir.common.hapi.validation.support.PrePopulatedValidationSupport;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.Questionnaire;

/** What was loaded. The library finds no Questionnaire among it, without which a response is hardly checked. */
final class Definitions extends PrePopulatedValidationSupport {

  private final Map<String, Questionnaire> forms = new HashMap<>();

  Definitions(FhirContext context) {
    super(context);
  }

  @Override
  public synchronized void addResource(IBaseResource resource) {
    if (resource instanceof Questionnaire form) {
      forms.put(form.getUrl(), form);
    } else {
      super.addResource(resource);
    }
  }

  @Override
  public <T extends IBaseResource> T fetchResource(Class<T> type, String url) {
    Questionnaire form = forms.get(url);
    return form != null && type.isInstance(form) ? type.cast(form) : super.fetchResource(type, url);
  }
}
