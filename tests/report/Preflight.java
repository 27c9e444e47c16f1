import java.io.File;
import org.apache.pdfbox.preflight.PreflightDocument;
import org.apache.pdfbox.preflight.ValidationResult;
import org.apache.pdfbox.preflight.parser.PreflightParser;

/** Checks files against PDF/A-1b with Apache PDFBox Preflight: one line a file, then its errors. */
public class Preflight {
    public static void main(String[] files) throws Exception {
        for (String name : files) {
            PreflightParser parser = new PreflightParser(new File(name));
            parser.parse();
            try (PreflightDocument document = parser.getPreflightDocument()) {
                document.validate();
                ValidationResult result = document.getResult();
                System.out.println(result.isValid() ? "valid" : "not valid");
                for (ValidationResult.ValidationError error : result.getErrorsList()) {
                    System.out.println(error.getErrorCode() + " " + error.getDetails());
                }
            }
        }
    }
}
